// Package plan is bottling day: how much sugar, which bottles, what pressure
// they will bear, and what should be seen to before the first is capped. It is
// pure. Nothing it says makes a bottle fit for pressure: the bottle maker's
// rating and an eye for scratches go before every number.
//
// New turns a lot's document into a Plan, which marshals to JSON and prints as
// a page (Text).
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
	AltitudeM float64 // −500 to 5,000 m
}

// Plan for a bottling day. Volumes are litres of CO2 per litre of beer, in beer
// and headspace together.
type Plan struct {
	Lot string `json:"lot"`
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
	Warnings          []string `json:"warnings"` // gravest first

	lot  model.Lot
	site Site
}

// desk is what the planning works with.
type desk struct {
	lot      model.Lot // as documented
	station  model.Bar
	proposed []model.Priming // what would meet the target
	primed   model.Lot       // with what was added, else what is proposed
}

// New plans a lot at a site. The error joins the faults of the document
// (model.Fault); what isn't known on bottling day yet, the time, the space and
// how much sugar, may be missing.
func New(lot model.Lot, site Site) (*Plan, error) {
	if !(site.AltitudeM >= -500 && site.AltitudeM <= 5000) {
		return nil, fmt.Errorf("plan lot %s: altitude_m is %g; give -500 to 5000 m", lot.ID, site.AltitudeM)
	}
	if faults := Check(lot); len(faults) > 0 {
		return nil, fmt.Errorf("plan lot %s: %w", lot.ID, join(faults))
	}
	d := desk{lot: lot, station: model.StationPressure(site.AltitudeM), primed: lot}
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
		lot:             lot,
		site:            site,
	}
	if lot.Beer.LimitGravity > 0 || d.live() {
		u := round(float64(lot.Unfinished()), 3)
		p.UnfinishedVolumes = &u
	}
	p.Hold, p.Warnings = d.warnings()
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
