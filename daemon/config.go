package daemon

import (
	"time"

	"conditiond/alerts/notify"
	"conditiond/daemon/intake"
	"conditiond/model"
)

// Config is the configuration file. LoadConfig fills in defaults and checks it,
// so whoever holds one need not.
type Config struct {
	Site      Site              `yaml:"site"`
	MQTT      MQTT              `yaml:"mqtt"`
	Sensors   map[string]Sensor `yaml:"sensors"`
	Spaces    map[string]Space  `yaml:"spaces"`
	Journal   Journal           `yaml:"journal"`
	InfluxDB  *InfluxDB         `yaml:"influxdb"` // nil = none
	Web       Web               `yaml:"web"`
	Alerts    Alerts            `yaml:"alerts"`
	Notify    []notify.Config   `yaml:"notify"`
	Heartbeat *Heartbeat        `yaml:"heartbeat"` // nil = none
}

// Site is where the bottles stand.
type Site struct {
	Name     string  `yaml:"name"`
	Timezone string  `yaml:"timezone"` // IANA name
	Altitude float64 `yaml:"altitude_m"`
}

// Location of the site's clock.
func (s Site) Location() (*time.Location, error) { return time.LoadLocation(s.Timezone) }

// MQTT is the broker: another program's, or with no Broker the built-in one.
type MQTT struct {
	Broker       string `yaml:"broker"` // mqtt://host:port or mqtts://host:port; empty = the built-in one
	Listen       string `yaml:"listen"` // where the built-in broker listens
	ClientID     string `yaml:"client_id"`
	Username     string `yaml:"username"`
	PasswordFile Secret `yaml:"password_file"`
	CAFile       string `yaml:"ca_file"`   // who signed the broker's certificate; empty = the system's authorities
	CertFile     string `yaml:"cert_file"` // our own certificate, when the broker demands one
	KeyFile      string `yaml:"key_file"`
	Discovery    string `yaml:"discovery"` // homeassistant: its hub is told of every lot; empty = none
}

// Sensor is one series of readings.
type Sensor struct {
	Topic       string           `yaml:"topic"`
	Pointer     string           `yaml:"pointer"` // RFC 6901; empty = the payload is a bare number
	Quantity    model.Quantity   `yaml:"quantity"`
	Unit        intake.Unit      `yaml:"unit"`
	Interval    time.Duration    `yaml:"interval"`   // how often readings are due
	Reference   intake.Reference `yaml:"reference"`  // pressure only
	FullScale   float64          `yaml:"full_scale"` // in Unit; 0 = unknown
	Calibration Calibration      `yaml:"calibration"`
}

// Calibration makes scale × raw + offset of a raw value, in the sensor's unit.
type Calibration struct {
	Scale  float64 `yaml:"scale"`
	Offset float64 `yaml:"offset"`
}

// Space is where lots stand, and the sensor that tells its temperature.
type Space struct {
	Temperature string `yaml:"temperature"`
}

// Journal is the record on this machine.
type Journal struct {
	Dir   string        `yaml:"dir"`
	Pause time.Duration `yaml:"pause"` // longest that readings wait to be written together
	Keep  time.Duration `yaml:"keep"`  // what is older is deleted, but for open lots; 0 = everything stays
	// MaxMB is the size, in MB, from which the oldest is deleted; 0 = it may grow.
	MaxMB int `yaml:"max_mb"`
	// Backups is the folder with copies of the journal. Where it can't be used, the
	// newest of them takes its place; empty = the package's, for its own journal.
	Backups string `yaml:"backups"`
}

// InfluxDB is a mirror of the journal.
type InfluxDB struct {
	URL       string `yaml:"url"`
	Org       string `yaml:"org"`
	Bucket    string `yaml:"bucket"`
	TokenFile Secret `yaml:"token_file"`
}

// Web is the page and its API.
type Web struct {
	Listen       string `yaml:"listen"`
	PasswordFile Secret `yaml:"password_file"`
	// CertificateFile and KeyFile make the page speak TLS; both or neither.
	CertificateFile string `yaml:"certificate_file"`
	KeyFile         string `yaml:"key_file"`
}

// Alerts are the thresholds that a person may set; alerts.Config says what they
// do, and what holds for those that are zero.
type Alerts struct {
	TooCold         float64       `yaml:"too_cold_c"`
	ColdFor         time.Duration `yaml:"cold_for"`
	TooWarm         float64       `yaml:"too_warm_c"`
	WarmFor         time.Duration `yaml:"warm_for"`
	SilentAfter     time.Duration `yaml:"silent_after"`
	SilentIntervals float64       `yaml:"silent_intervals"`
	Quiet           *Quiet        `yaml:"quiet"`  // nil = none
	Digest          *Digest       `yaml:"digest"` // nil = none
}

// Digest is a word at a set time though nothing happened.
type Digest struct {
	At    string `yaml:"at"`    // 08:00
	Every string `yaml:"every"` // day or week; empty = day
}

// Quiet hours, by the site's clock, hold back all but danger. They may pass
// midnight.
type Quiet struct {
	From string `yaml:"from"` // 22:00
	To   string `yaml:"to"`   // 07:00
}

// sinceMidnight of a time of day such as 07:30.
func sinceMidnight(s string) (time.Duration, error) {
	t, err := time.Parse("15:04", s)
	return time.Duration(t.Hour())*time.Hour + time.Duration(t.Minute())*time.Minute, err
}

// Heartbeat calls an outside watcher, who tells somebody when the calls stop.
type Heartbeat struct {
	URLFile Secret        `yaml:"url_file"`
	Every   time.Duration `yaml:"every"`
}

// Secret is where a secret is kept.
type Secret = notify.Secret

// defaults are what holds for everything that the file doesn't say.
func defaults() Config {
	return Config{
		Site:    Site{Name: "Home", Timezone: "UTC"},
		MQTT:    MQTT{Listen: "127.0.0.1:1883", ClientID: "conditiond"},
		Journal: Journal{Dir: packageDir, Pause: 15 * time.Second},
		Web:     Web{Listen: "127.0.0.1:8080"},
	}
}
