package plan

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"strings"
)

//go:embed sheet.html
var sheetFile string

var sheetTemplate = template.Must(template.New("").Parse(sheetFile))

// HTML writes the plan as one page that needs nothing else: it fits a phone and
// prints on A4. The error is the writer's.
func (p *Plan) HTML(w io.Writer) error {
	if err := sheetTemplate.ExecuteTemplate(w, "page", p.Sheet()); err != nil {
		return fmt.Errorf("write the plan of lot %s: %w", p.Lot, err)
	}
	return nil
}

// Article is the sheet without the page around it, for a page that has its own.
func (s Sheet) Article() (template.HTML, error) {
	var b strings.Builder
	if err := sheetTemplate.ExecuteTemplate(&b, "sheet", s); err != nil {
		return "", fmt.Errorf("write the plan of lot %s: %w", s.Lot, err)
	}
	return template.HTML(b.String()), nil
}
