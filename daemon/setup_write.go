package daemon

import (
	_ "embed"
	"strconv"
	"text/template"
)

//go:embed setup.yaml
var setupText string

// setupTemplate of the configuration that Setup writes.
func setupTemplate() *template.Template {
	return template.Must(template.New("configuration").Funcs(template.FuncMap{
		"short": short,
		"path":  func(s Secret) string { return strconv.Quote(string(s)) }, // which prints as … elsewhere
	}).Parse(setupText))
}
