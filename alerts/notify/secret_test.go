package notify

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"gopkg.in/yaml.v3"
)

// token is an invented secret, which no error and no log may hold.
const token = "tk-invented-7f3a"

func secretFile(t *testing.T, text string) Secret {
	path := filepath.Join(t.TempDir(), "secret")
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return Secret(path)
}

func TestSecretRead(t *testing.T) {
	t.Setenv("CONDITIOND_TEST_TOKEN", token)
	for _, s := range []Secret{secretFile(t, token), secretFile(t, token+"\n"), secretFile(t, token+"\r\n"), "env:CONDITIOND_TEST_TOKEN"} {
		if got, err := s.Read(); got != token || err != nil {
			t.Errorf("got %q, %v", got, err)
		}
	}
}

func TestSecretUnreadable(t *testing.T) {
	for s, want := range map[Secret]string{
		secretFile(t, " \n"):                    "empty",
		Secret(t.TempDir() + "/none"):           "no such file",
		Secret(t.TempDir()):                     "can't be read",
		token:                                   "env:NAME",
		"env:CONDITIOND_TEST_UNSET":             "no value",
		Secret("/" + token + "/" + token):       "no such file",
		Secret("https://hook.invalid/" + token): "env:NAME",
	} {
		_, err := s.Read()
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("got %v, want %q", err, want)
		}
		silent(t, err)
	}
}

// silent: an error holds no secret.
func silent(t *testing.T, err error) {
	t.Helper()
	if err != nil && strings.Contains(strings.ToLower(err.Error()), token) {
		t.Errorf("the error tells the secret: %v", err)
	}
}

func TestSecretPrints(t *testing.T) {
	s := Secret(token)
	printed := fmt.Sprintf("%v %+v %#v %s %q %x %v", s, s, s, s, s, s, struct{ S Secret }{s})
	inJSON, err := json.Marshal(s)
	if err != nil {
		t.Fatal(err)
	}
	inYAML, err := yaml.Marshal(s)
	if err != nil {
		t.Fatal(err)
	}
	all := printed + string(inJSON) + string(inYAML)
	if strings.Contains(all, token) || strings.Contains(all, fmt.Sprintf("%x", token)) || !strings.Contains(all, "…") {
		t.Errorf("prints as %s", all)
	}
}
