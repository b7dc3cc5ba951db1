// Package plan is bottling day: how much sugar, which bottles, what pressure
// they will bear, and what should be seen to before the first is capped. It is
// pure. Nothing it says makes a bottle fit for pressure: the bottle maker's
// rating and an eye for scratches go before every number.
//
// New turns a lot's document into a Plan, which marshals to JSON, prints as a
// page of text (Text) and as one for a browser or a printer (HTML).
package plan

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"

	"conditiond/model"
)

// Site is where the bottles stand.
type Site struct {
	AltitudeM float64       // −500 to 5,000 m
	RoomC     model.Celsius // of the room that they stand in, 1 to 45 °C; 0 = not known, 20 is taken
}

func (s Site) room() model.Celsius {
	if s.RoomC == 0 {
		return room
	}
	return s.RoomC
}

// check says what is wrong with it.
func (s Site) check() error {
	if !(s.AltitudeM >= -500 && s.AltitudeM <= 5000) {
		return fmt.Errorf("altitude_m is %g; give -500 to 5000 m", s.AltitudeM)
	}
	if s.RoomC != 0 && !(s.RoomC >= 1 && s.RoomC <= 45) {
		return fmt.Errorf("the room is at %g °C; give 1 to 45 °C", float64(s.RoomC))
	}
	return nil
}

// Plan for a bottling day. Volumes are litres of CO2 per litre of beer, in beer
// and headspace together.
type Plan struct {
	Lot string `json:"lot"`
	// First is what to do before all else, in a line.
	First string `json:"first"`
	// Hold: don't bottle, or not in these bottles, before what the first
	// warnings say is settled.
	Hold bool `json:"hold"`
	// ResidualVolumes are in the beer before priming.
	ResidualVolumes float64 `json:"residual_volumes"`
	TargetVolumes   float64 `json:"target_volumes"`
	// ExpectedVolumes is where the average bottle ends: with the priming that
	// the document says was added, else with the proposed, and with what is
	// unfinished. In a live drink, where it is to be stopped.
	ExpectedVolumes float64 `json:"expected_volumes"`
	// Priming that meets the target, of the document's sugar, else dextrose.
	Priming        []Dose      `json:"priming"`
	PrimingChoices []Dose      `json:"priming_choices"` // one of these instead
	PerBottle      []PerBottle `json:"per_bottle"`
	// UnfinishedVolumes will come from the beer itself; null when no limit
	// gravity is known.
	UnfinishedVolumes *float64 `json:"unfinished_volumes"`
	ReadyDays         *Wait    `json:"ready_days"` // null for a live drink: it has no end
	Warnings          []string `json:"warnings"`   // gravest first
	Notes             []string `json:"notes"`      // what the figures rest on

	lot   model.Lot
	site  Site
	could float64 // volumes that the average bottle could come to
	ahead bool    // First is from the warnings
	late  bool    // it is for after the fact: too much went in
}

// desk is what the planning works with.
type desk struct {
	lot      model.Lot // as documented
	site     Site
	station  model.Bar
	proposed []model.Priming // what would meet the target
	primed   model.Lot       // with what was added, else what is proposed
}

// New plans a lot at a site. The error joins the faults of the document
// (model.Fault); what isn't known on bottling day yet, the time, the space and
// how much sugar, may be missing.
func New(lot model.Lot, site Site) (*Plan, error) {
	if err := site.check(); err != nil {
		return nil, fmt.Errorf("plan lot %s: %w", lot.ID, err)
	}
	if faults := Check(lot); len(faults) > 0 {
		return nil, fmt.Errorf("plan lot %s: %w", lot.ID, join(faults))
	}
	d := desk{lot: lot, site: site, station: model.StationPressure(site.AltitudeM), primed: lot}
	d.proposed = d.propose()
	if !d.added() {
		d.primed.Priming = d.proposed
	}
	p := &Plan{
		Lot:             lot.ID,
		ResidualVolumes: round(float64(d.bare().Residual(d.station)), 3),
		TargetVolumes:   round(float64(d.target()), 3),
		ExpectedVolumes: round(float64(d.expected()), 3),
		Priming:         d.doses(d.proposed),
		PrimingChoices:  d.choices(),
		PerBottle:       d.perBottle(),
		ReadyDays:       d.ready(),
		lot:             lot,
		site:            site,
	}
	if lot.Beer.LimitGravity > 0 || d.live() {
		u := round(float64(lot.Unfinished()), 3)
		p.UnfinishedVolumes = &u
	}
	p.tell(d.warnings())
	p.could = float64(d.potential())
	p.late = p.Hold && d.much()
	p.Notes = d.notes(p.Hold)
	return p, nil
}

// Check says what keeps a document from being planned: all its faults but what
// needn't be known on bottling day yet, or what a plan is there to find out.
func Check(lot model.Lot) []model.Fault {
	return slices.DeleteFunc(lot.Check(), func(f model.Fault) bool {
		unset := f.Path == "packaged_at" && lot.PackagedAt.IsZero() || f.Path == "space"
		return unset || amountMissing(lot, f.Path)
	})
}

func join(faults []model.Fault) error {
	var errs []error
	for _, f := range faults {
		errs = append(errs, f)
	}
	return errors.Join(errs...)
}

// amountMissing is true when the path is that of the amount, left out, of the
// only priming in the document: then the plan is asked for it.
func amountMissing(lot model.Lot, path string) bool {
	if len(lot.Priming) != 1 || added(lot.Priming[0]) || lot.Priming[0].Sugar == model.Drops {
		return false
	}
	return path == "priming[0].mass_g" || path == "priming[0].volume_l"
}

func added(p model.Priming) bool { return p.MassG != 0 || p.VolumeL != 0 }

// added is true when the document says how much was added.
func (d desk) added() bool { return slices.ContainsFunc(d.lot.Priming, added) }

// bare is the lot without priming.
func (d desk) bare() model.Lot {
	l := d.lot
	l.Priming = nil
	return l
}

// live is a drink that is stopped, not finished.
func (d desk) live() bool { return d.lot.StopAtVolumes > 0 }

// target in volumes; a live drink's is where it is stopped.
func (d desk) target() model.Volumes {
	if d.live() {
		return d.lot.StopAtVolumes
	}
	return d.lot.TargetVolumes
}

// potential is all that the average bottle could come to.
func (d desk) potential() model.Volumes {
	return d.primed.Residual(d.station) + d.primed.PrimingVolumes() + d.primed.Unfinished()
}

func (d desk) expected() model.Volumes {
	if d.live() {
		return d.lot.StopAtVolumes
	}
	return d.potential()
}

// round to a number of decimals.
func round(x float64, decimals int) float64 {
	f := math.Pow(10, float64(decimals))
	return math.Round(x*f) / f
}

// plain number of litres, millilitres or grams.
func plain(x float64) string { return strconv.FormatFloat(round(x, 2), 'f', -1, 64) }
