package notify

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// Secret is where a secret is kept: the absolute path of a file, or env:NAME
// for a variable of the environment. It prints as "…", since somebody will put
// the secret itself there by mistake.
type Secret string

// Read gives the secret as it is now, without the line end that editors add.
// It is read at each use, so a changed password needs no restart.
func (s Secret) Read() (string, error) {
	if name, ok := strings.CutPrefix(string(s), "env:"); ok {
		return filled(os.Getenv(name), "the environment variable has no value")
	}
	if !s.Named() {
		return "", errors.New("neither the whole path of a file nor env:NAME")
	}
	data, err := os.ReadFile(string(s))
	var cause *fs.PathError
	if errors.As(err, &cause) {
		return "", fmt.Errorf("the file can't be read: %w", cause.Err)
	}
	if err != nil {
		return "", errors.New("the file can't be read")
	}
	return filled(strings.TrimRight(string(data), "\r\n"), "the file is empty")
}

// Named says whether s can be the name of a secret; if not, it may be one.
func (s Secret) Named() bool {
	return filepath.IsAbs(string(s)) || strings.HasPrefix(string(s), "env:")
}

func filled(secret, otherwise string) (string, error) {
	if strings.TrimSpace(secret) == "" {
		return "", errors.New(otherwise)
	}
	return secret, nil
}

// Exposed says whether others than the owner and the group may read the file.
func (s Secret) Exposed() bool {
	info, err := os.Stat(string(s))
	return err == nil && info.Mode().Perm()&0o007 != 0
}

// Format prints "…" for every verb.
func (Secret) Format(f fmt.State, _ rune) { f.Write([]byte("…")) }

// MarshalText writes "…", into YAML and JSON and logs too.
func (Secret) MarshalText() ([]byte, error) { return []byte("…"), nil }
