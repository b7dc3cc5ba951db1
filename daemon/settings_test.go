package daemon

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestSectionsTellNoSecret: all that is configured is shown, but for what is
// secret: files that hold secrets, a topic that lets anybody read along, a
// secret that was put where a path should stand.
func TestSectionsTellNoSecret(t *testing.T) {
	dir := t.TempDir()
	secret := filepath.Join(dir, "hush")
	if err := os.WriteFile(secret, []byte("https://push.example.net/abracadabra\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(dir, "config.yaml")
	text := fmt.Sprintf(`site: {name: Pantry, timezone: Europe/Oslo}
mqtt: {broker: "mqtt://192.0.2.7:1883", username: conditiond, password_file: %[1]s}
sensors:
  pantry-air: {topic: pantry/climate, pointer: /t, quantity: temperature, unit: degC, interval: 1m}
  gauge-a: {topic: pantry/gauge, quantity: pressure, unit: psi, interval: 90s, reference: gauge}
spaces: {pantry: {temperature: pantry-air}}
web: {listen: "127.0.0.1:8080", password_file: %[1]s}
influxdb: {url: "http://192.0.2.8:8086", org: home, bucket: conditioning, token_file: %[1]s}
notify:
  - {name: phone, least: danger, ntfy: {url: "https://push.example.net/sesame", token_file: %[1]s}}
  - {name: mail, least: notice, smtp: {server: "mail.example.net:587", from: pi@example.net, to: [a@example.net, b@example.net], password_file: %[1]s}}
`, secret)
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	c, _, err := LoadConfig(file)
	if err != nil {
		t.Fatal(err)
	}
	list, err := c.sections()
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	for _, s := range list {
		for _, r := range s.Rows {
			fmt.Fprintln(&b, s.Part, s.Name, r.Name, r.Value)
		}
	}
	for _, want := range []string{"site  timezone Europe/Oslo", "mqtt  broker mqtt://192.0.2.7:1883", "mqtt  password_file …", "sensors gauge-a unit psi", "sensors gauge-a interval 1m30s",
		"spaces  pantry.temperature pantry-air", "influxdb  token_file …", "notify phone ntfy.url https://push.example.net/…", "notify mail smtp.to a@example.net, b@example.net", "web  password_file …"} {
		if !strings.Contains(b.String(), want+"\n") {
			t.Errorf("no %q in\n%s", want, b.String())
		}
	}
	for _, never := range []string{"abracadabra", "sesame", "hush", "ca_file", "full_scale"} { // the last two aren't set
		if strings.Contains(b.String(), never) {
			t.Errorf("it tells %q in\n%s", never, b.String())
		}
	}
}
