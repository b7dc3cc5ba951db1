package notify

// Ntfy publishes to a topic of an ntfy server.
type Ntfy struct {
	URL       string `yaml:"url"`        // the server's address and the topic
	TokenFile Secret `yaml:"token_file"` // empty = the topic needs none
}
