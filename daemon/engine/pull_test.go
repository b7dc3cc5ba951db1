package engine

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"conditiond/alerts"
	"conditiond/model"
)

func volumes(v model.Volumes) *model.Volumes { return &v }

func pull(v model.Volumes) *Note { return &Note{Lot: "invented-ale", Volumes: volumes(v)} }

// Pulls are kept as sightings are: by the journal, by the entries and by a
// snapshot; what holds the lot before a restart holds it after.
func TestPullsHoldTheLotAcrossARestart(t *testing.T) {
	p := play(t)
	p.at(time.Hour, reading(20, 0.3))
	p.put(Input{At: packaged.Add(2 * time.Hour), Note: pull(2.45)})
	if p.e.View().Lots[0].Hold != nil {
		t.Fatal("held by a bottle as it should be")
	}
	en := p.put(Input{At: packaged.Add(3 * time.Hour), Note: pull(2.9)})
	if len(en.Alerts) != 1 || en.Alerts[0].Name != alerts.OverCarbonation {
		t.Fatalf("changed %+v", en.Alerts)
	}
	replayed, restored := closet(t), closet(t)
	for _, en := range p.entries {
		replayed.Apply(fromJournal(t, en))
	}
	state, err := p.e.Snapshot()
	if err != nil {
		t.Fatal(err)
	}
	if err := restored.Restore(state); err != nil {
		t.Fatal(err)
	}
	for _, e := range []*Engine{replayed, restored} {
		l := e.View().Lots[0]
		if l.Hold == nil || !strings.Contains(l.Hold.Summary, "1 of 2 bottles") {
			t.Fatalf("after a restart: %+v", l.Hold)
		}
		if n := l.Notes[1]; *n.Volumes != 2.9 || n.Text != "A bottle was measured: 2.90 volumes." {
			t.Errorf("the record says %+v", n)
		}
	}
	same(t, restored, replayed)
	en = p.put(Input{At: packaged.Add(6 * time.Hour), Note: &Note{Lot: "invented-ale", Saw: alerts.Decided, Text: "Kim: the last crate is drunk here."}})
	if h := p.e.View().Lots[0].Hold; h != nil || len(en.Alerts) != 1 || en.Alerts[0].State != alerts.Cleared {
		t.Errorf("after the decision: %+v, %+v", h, en.Alerts)
	}
}

// What is measured as a pressure becomes the volumes whose pressure it is. 2.10
// bar above an air of 1.0 are 3.10, of which 0.02 are vapour and 0.39 × 14/(14 +
// 0.017 × 330) = 0.28 the nitrogen of a headspace that was half air, for beer
// takes up a part (0.017 of its volume, from memory): 2.80 of CO2. By Weiss 1974
// × 0.96 a litre of beer holds 1.63 g of that a bar, and 42 ml of headspace 0.08
// g: 4.79 g, 2.42 volumes of 1.977 g.
func TestPullAsPressure(t *testing.T) {
	p := play(t)
	bar, warm := model.BarGauge(2.10), model.Celsius(20)
	en := p.put(Input{At: packaged.Add(time.Hour), Note: &Note{Lot: "invented-ale", Bar: &bar, BeerC: &warm, Text: "crate 7"}})
	v := float64(*en.Note.Volumes)
	if math.Abs(v-2.42) > 0.03 {
		t.Errorf("%.3f volumes", v)
	}
	l := p.e.lots["invented-ale"]
	if back := p.e.filled(l.Document, l.Document.Bottles[0]).Gauge(model.Volumes(v), 20); math.Abs(float64(back-2.10)) > 1e-6 {
		t.Errorf("which press %.3f bar", back)
	}
	if n := l.Notes[0]; !strings.HasPrefix(n.Text, "A bottle was measured: 2.") || !strings.HasSuffix(n.Text, "by 2.10 bar at 20.0 °C. crate 7") {
		t.Error(n.Text)
	}
}

func TestPullsThatCantBe(t *testing.T) {
	p := play(t)
	n := func(vol, bar, warm float64) Note {
		var out Note
		if vol != 0 {
			out.Volumes = volumes(model.Volumes(vol))
		}
		if b := model.BarGauge(bar); bar != 0 {
			out.Bar = &b
		}
		if c := model.Celsius(warm); warm != 0 {
			out.BeerC = &c
		}
		return out
	}
	for _, c := range []struct {
		note Note
		says string
	}{
		{n(-0.1, 0, 0), "0 to 10 would"},
		{n(10.1, 0, 0), "0 to 10 would"},
		{n(math.NaN(), 0, 0), "0 to 10 would"},
		{n(2.5, 2, 20), "either volumes"},
		{n(2.5, 0, 20), "either volumes"},
		{n(0, 2, 0), "how warm"},
		{n(0, 0, 20), "pressure"},
		{n(0, 13, 20), "0 to 12, above"},
		{n(0, math.Inf(1), 20), "0 to 12, above"},
		{n(0, 2, 68), "0 to 40"},
		{n(0, 12, 2), "0 to 10 would"},
		{Note{Saw: alerts.Decided}, "who decides"},
	} {
		c.note.Lot = "invented-ale"
		_, err := p.e.Step(Input{At: packaged.Add(time.Hour), Note: &c.note})
		var unfit *Unfit
		if !errors.As(err, &unfit) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%+v: %v", c.note, err)
		}
	}
}
