package synth

import (
	"math"
	"time"
)

// Truth is what really happened to a lot, as an examiner reads it. Pressures
// are bar above the local atmosphere, volumes per volume of beer, times UTC.
type Truth struct {
	Note       string    `json:"note"`
	Lot        string    `json:"lot"`
	Family     Family    `json:"family"`
	PackagedAt time.Time `json:"packaged_at"`
	EndsAt     time.Time `json:"recording_ends_at"`
	HorizonAt  time.Time `json:"horizon_at"` // how far peaks look: ready and 14 days, at least the end, at most day 180
	Bottle     string    `json:"bottle"`     // gauge or lot: whose series these are
	Hourly     Hourly    `json:"hourly"`

	ReadyAt           *time.Time   `json:"ready_at"`
	FinalVolumes      float64      `json:"final_volumes"`
	FinalWithoutFault float64      `json:"final_volumes_without_fault"`
	WorstCaseBar      float64      `json:"worst_case_bar"`
	PeakBar           float64      `json:"peak_bar"`
	OverPressure      OverPressure `json:"over_pressure"`

	// Below progress 0.9, less than 0.07 volumes made in seven days at 16 °C
	// or more: when these days are over.
	NaturalStallAt *time.Time `json:"natural_stall_at"`
	// 0.15 volumes more made than the document's sugar can give.
	MoreGasThanPlannedAt *time.Time `json:"more_gas_than_planned_at"`

	Faults   []Fault     `json:"faults"`
	Events   []Happening `json:"events"`
	Silences []Silence   `json:"silences"`
	Origin   Origin      `json:"origin"`
}

// Hourly series: element i belongs to packaged_at plus i hours.
type Hourly struct {
	BeerC       []float64 `json:"beer_c"`
	GaugeBar    []float64 `json:"gauge_bar"`
	CO2Volumes  []float64 `json:"co2_volumes"`
	SugarLeft   []float64 `json:"sugar_left_volumes"`
	Progress    []float64 `json:"progress"`
	PeakToCome  []float64 `json:"peak_to_come_bar"`
	RatingShare []float64 `json:"rating_share"` // of average bottles of the worst kind, highest within the hour before
}

// OverPressure compares the lot's tight bottles with their ratings.
type OverPressure struct {
	LimitBar     float64    `json:"limit_bar"`
	CrossesAt    *time.Time `json:"crosses_at"`
	HighestShare float64    `json:"highest_rating_share"` // of average bottles while recorded
	RichestShare float64    `json:"richest_rating_share"` // of the one in a hundred with the most sugar, up to the horizon
}

// Fault of the lot or of a sensor.
type Fault struct {
	Kind       string     `json:"kind"`
	Sensor     string     `json:"sensor,omitempty"`
	Size       float64    `json:"size_g_per_d_bar,omitempty"`
	StartsAt   time.Time  `json:"starts_at"`
	EndsAt     *time.Time `json:"ends_at,omitempty"`
	KnowableAt *time.Time `json:"knowable_at"` // beside an identical bottle without the fault; nil = not within the recording
	EvidentAt  *time.Time `json:"evident_at,omitempty"`
}

// Happening is an event of the truth.
type Happening struct {
	Kind EventKind  `json:"kind"`
	From time.Time  `json:"from"`
	To   *time.Time `json:"to,omitempty"`
	Note string     `json:"note,omitempty"`
}

// Origin says how to draw the lot again.
type Origin struct {
	Seed   uint64 `json:"seed"`
	Index  int    `json:"index"`
	Family Family `json:"family"`
}

// Truth sums up what was.
func (r *Recording) Truth() *Truth {
	s := r.scenario
	t := &Truth{Note: "invented: no such beer was brewed", Lot: s.Lot.ID, Family: s.Family,
		PackagedAt: s.Lot.PackagedAt.UTC(), EndsAt: r.end(), HorizonAt: r.horizon(), Bottle: "lot", ReadyAt: r.ReadyAt,
		FinalVolumes: round(r.FinalVolumes), NaturalStallAt: r.naturalStall(), MoreGasThanPlannedAt: r.moreGas(),
		Silences: s.silences(), Origin: Origin{s.Seed, s.Index, s.Family}}
	if s.Gauged != nil {
		t.Bottle = "gauge"
	}
	plain := r.withoutFault()
	t.FinalWithoutFault = round(volumes(plain.final()))
	r.series(t)
	r.bottles(t)
	t.Events = s.happenings()
	t.Faults = r.faults(plain)
	return t
}

func round(v float64) float64 { return math.Round(v*1e4) / 1e4 }

func (r *Recording) at(i int) time.Time {
	return r.scenario.Lot.PackagedAt.UTC().Add(time.Duration(i) * step)
}

// until is the first step after an instant.
func (r *Recording) until(at time.Time) int {
	return min(int(at.Sub(r.at(0))/step)+1, len(r.tight.gauge))
}

func (r *Recording) horizon() time.Time {
	last := r.at(0).Add(reach)
	if r.ReadyAt == nil {
		return last
	}
	at := r.ReadyAt.Add(14 * 24 * time.Hour)
	if at.Before(r.end()) {
		at = r.end()
	}
	if at.After(last) {
		at = last
	}
	return at
}

// withoutFault is the tight bottle if the late attenuation or the stall had not
// happened.
func (r *Recording) withoutFault() *life {
	s := *r.scenario
	if s.Dies == 0 && s.Guest.From == 0 {
		return r.tight
	}
	s.Dies, s.Guest = 0, Guest{}
	return s.live(*r.tight.Vessel, r.climate)
}

func (r *Recording) series(t *Truth) {
	to := r.until(t.HorizonAt)
	peak := make([]float64, to)
	top := math.Inf(-1)
	for i := to - 1; i >= 0; i-- {
		top = math.Max(top, r.tight.gauge[i])
		peak[i] = top
	}
	t.PeakBar = round(top)
	h := &t.Hourly
	for n := 0; n <= 24*r.scenario.Days; n++ {
		i := 6 * n
		h.BeerC = append(h.BeerC, round(r.told.celsius[i]))
		h.GaugeBar = append(h.GaugeBar, round(r.told.gauge[i]))
		h.CO2Volumes = append(h.CO2Volumes, round(volumes(r.told.co2[i])))
		h.SugarLeft = append(h.SugarLeft, round(volumes(r.tight.sweet[i])))
		h.Progress = append(h.Progress, round(r.progress(i)))
		h.PeakToCome = append(h.PeakToCome, round(peak[min(i, to-1)]))
	}
}

// bottles follows an average bottle of each kind, and the richest of a hundred.
func (r *Recording) bottles(t *Truth) {
	s := r.scenario
	over := &t.OverPressure
	limit, _ := s.Lot.Limit(s.Station)
	over.LimitBar = float64(limit)
	share := make([]float64, r.until(t.HorizonAt))
	for i, v := range s.Bottles {
		rated := float64(s.Lot.Bottles[i].Rating(s.Station))
		l := s.live(v, r.climate)
		for j := range share {
			share[j] = math.Max(share[j], l.gauge[j]/rated)
		}
		t.WorstCaseBar = math.Max(t.WorstCaseBar, round(l.worst(s, r.goalOf(l))))
		v.Rich = 1 + 2.326*s.Spread
		rich := s.live(v, r.climate)
		for j := range share {
			over.RichestShare = math.Max(over.RichestShare, round(rich.gauge[j]/rated))
		}
	}
	for j := len(share) - 1; j >= 0; j-- {
		if share[j] >= 1 {
			at := r.at(j)
			over.CrossesAt = &at
		}
	}
	for n := range t.Hourly.Progress {
		top := 0.0
		for j := max(0, 6*n-5); j <= 6*n; j++ {
			top = math.Max(top, share[j])
		}
		t.Hourly.RatingShare = append(t.Hourly.RatingShare, round(top))
		over.HighestShare = math.Max(over.HighestShare, round(top))
	}
}

// goalOf another of the lot's bottles.
func (r *Recording) goalOf(l *life) float64 { return r.scenario.goal(l, r.climate) }

// worst is the gauge pressure at rest at the worst case, all sugar gone.
func (l *life) worst(s *Scenario, goal float64) float64 {
	guest := s.Nature.Yield * s.Guest.Sugar
	return l.atRest(l.capped+math.Max(goal, l.made[len(l.made)-1])+guest, float64(s.Lot.WorstCaseC), float64(s.Station))
}
