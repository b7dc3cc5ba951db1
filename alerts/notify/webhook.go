package notify

// Webhook posts the notice as JSON.
type Webhook struct {
	URLFile Secret `yaml:"url_file"` // the URL is a secret: whoever has it can post
}
