package model

// Closure of a bottle.
type Closure string

const (
	CrownCap      Closure = "crown-cap"
	SwingStopper  Closure = "swing-stopper"
	PETScrewCap   Closure = "pet-screw-cap"
	PoorlyCrimped Closure = "poorly-crimped-crown-cap"
)

// Holds is between which gauge pressures, in bar, a closure begins to let gas
// out (a trade's recollection, from memory); zero where that isn't known. It may
// let gas out before the glass breaks, and may not: nothing here counts it as
// protection, and no rating is raised by it. A poor crimp is the usual reason
// why one bottle of a lot is flat.
func (c Closure) Holds() (from, to BarGauge) {
	switch c {
	case CrownCap:
		return 8, 12
	case SwingStopper:
		return 6, 10
	case PETScrewCap:
		return 10, 0
	case PoorlyCrimped:
		return 3, 6
	}
	return 0, 0
}
