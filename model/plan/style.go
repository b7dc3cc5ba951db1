package plan

import (
	"strings"

	"conditiond/model"
)

// Style is a range of carbonation that people like.
type Style struct {
	Name      string
	Low, High model.Volumes
}

// styles by rising carbonation (common practice, no source).
var styles = [...]Style{
	{"British ales", 1.5, 2.0},
	{"most ales and lagers", 2.2, 2.7},
	{"sparkling cider", 3.0, 4.0},
	{"wheat and fruit beers", 3.3, 4.5},
	{"like sparkling wine", 5.0, 6.0},
}

// Styles by rising carbonation.
func Styles() []Style { return append([]Style{}, styles[:]...) }

// styled names what a target is usual for; empty when for nothing.
func styled(v float64) string {
	var names []string
	for _, s := range styles {
		if v >= float64(s.Low) && v <= float64(s.High) {
			names = append(names, s.Name)
		}
	}
	return strings.Join(names, " or ")
}
