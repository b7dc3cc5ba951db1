package notify

// SMTP sends mail.
type SMTP struct {
	Server       string   `yaml:"server"` // host:port; 465 speaks TLS from the first byte, others must offer STARTTLS
	From         string   `yaml:"from"`
	To           []string `yaml:"to"`
	Username     string   `yaml:"username"`      // absent = From
	PasswordFile Secret   `yaml:"password_file"` // empty = no authentication
}
