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
	page, err := p.Sheet().html("page")
	if err == nil {
		_, err = io.WriteString(w, page)
	}
	if err != nil {
		return fmt.Errorf("write the plan of lot %s: %w", p.Lot, err)
	}
	return nil
}

// Article is the sheet without the page around it, for a page that has its own.
func (s Sheet) Article() (template.HTML, error) {
	article, err := s.html("sheet")
	if err != nil {
		return "", fmt.Errorf("write the plan of lot %s: %w", s.Lot, err)
	}
	return template.HTML(article), nil
}

// html of one of the templates, where no line ends between a number and its unit.
func (s Sheet) html(name string) (string, error) {
	var b strings.Builder
	err := sheetTemplate.ExecuteTemplate(&b, name, s)
	return strings.NewReplacer(" °C", "\u00a0°C", " bar", "\u00a0bar", " g/L", "\u00a0g/L", " mL", "\u00a0mL").Replace(b.String()), err
}
