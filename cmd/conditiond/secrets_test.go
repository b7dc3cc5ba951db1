package main

import (
	"io"
	"net/http"
	"os"
	"strings"
	"testing"

	"conditiond/daemon/mqtt/mosquittotest"
)

// TestSecretsAreToldNobody gives the daemon secrets that all fail, and looks
// for them in everything that it says: the log, the page, the API, the metrics,
// the command line.
func TestSecretsAreToldNobody(t *testing.T) {
	broker := mosquittotest.New(t)
	nobody := freeAddress(t)
	secrets := []string{"rye-and-oats", "sesame-8f3a2c", "hook-5d1b", "push-77aa", "mail-90c4", "beat-41f0"}
	c := newCloset(t, broker.URL(), `influxdb: {url: "http://`+nobody+`", org: closet, bucket: closet, token_file: "env:TEST_TOKEN"}
notify:
  - {name: hook, least: warning, webhook: {url_file: "env:TEST_HOOK"}}
  - {name: push, least: warning, ntfy: {url: "http://`+nobody+`/closet", token_file: "env:TEST_PUSH"}}
  - {name: mail, least: warning, smtp: {server: "`+nobody+`", from: pi@example.net, to: [brewer@example.net], username: pi, password_file: "env:TEST_MAIL"}}
heartbeat: {url_file: "env:TEST_BEAT", every: 10s}
`, "TEST_MQTT="+secrets[0], "TEST_TOKEN="+secrets[1], "TEST_HOOK=http://"+nobody+"/"+secrets[2], "TEST_PUSH="+secrets[3],
		"TEST_MAIL="+secrets[4], "TEST_BEAT=http://"+nobody+"/"+secrets[5])
	config, err := os.ReadFile(c.config)
	if err != nil {
		t.Fatal(err)
	}
	c.write("config.yaml", strings.Replace(string(config), "mqtt: {", `mqtt: {username: closet, password_file: "env:TEST_MQTT", `, 1))
	c.start()
	c.do("lot", "open", c.write("lot.yaml", inventedLot()))
	for range 3 {
		publish(t, broker, "stairs/gauge-a", "6.1")
	}
	page := func(path string) string {
		r, err := http.Get("http://" + c.page + path)
		if err != nil {
			t.Fatal(err)
		}
		defer r.Body.Close()
		b, _ := io.ReadAll(r.Body)
		return string(b)
	}
	c.until("everybody is known to be out of reach", func() bool { return strings.Count(page("/"), "connection refused") >= 4 })
	said := map[string]string{"status": c.do("status"), "check": c.do("check")}
	for _, path := range []string{"/", "/lots/invented-ale", "/api/v1/lots", "/api/v1/alerts", "/metrics", "/readyz", "/nowhere"} {
		said[path] = page(path)
	}
	c.stop()
	said["log"] = c.log.String()
	for where, text := range said {
		for _, s := range secrets {
			if strings.Contains(text, s) {
				t.Errorf("%s tells the secret %s", where, s)
			}
		}
	}
}
