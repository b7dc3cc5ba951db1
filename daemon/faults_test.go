package daemon

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"conditiond/alerts"
	"conditiond/alerts/notify"
	"conditiond/daemon/engine"
	"conditiond/daemon/intake"
	"conditiond/daemon/journal"
	"conditiond/daemon/mqtt"
	"conditiond/model"
)

// faulty is a loop whose sensors misbehave as a test says.
type faulty struct {
	*watched
	t   *testing.T
	log *bytes.Buffer
}

// begin with both sensors in one JSON document, or each on a topic of its own,
// and a lot that was packaged five days ago.
func begin(t *testing.T, shared bool) faulty {
	t.Helper()
	air := Sensor{Topic: "t/air", Quantity: model.Temperature, Unit: "degC", Interval: 10 * time.Second, Calibration: Calibration{Scale: 1}}
	gauge := Sensor{Topic: "t/gauge", Quantity: model.Pressure, Unit: "bar", Reference: "gauge", FullScale: 10, Interval: 10 * time.Second, Calibration: Calibration{Scale: 1}}
	if shared {
		air.Topic, gauge.Topic, air.Pointer, gauge.Pointer = "t/node", "t/node", "/temperature", "/pressure"
	}
	f := faulty{watchOf(t, t.TempDir(), air, gauge), t, new(bytes.Buffer)}
	f.loop.log = slog.New(slog.NewTextHandler(f.log, nil))
	at := f.hand.Now()
	f.feed(engine.Input{At: at, Start: &engine.Start{}})
	f.feed(engine.Input{At: at, Open: &engine.Open{Lot: gauged(at.Add(-5 * 24 * time.Hour))}})
	return f
}

// hears payloads, ten seconds apart.
func (f faulty) hears(topic string, payloads ...string) {
	for _, p := range payloads {
		f.hand.move(f.hand.Now().Add(10 * time.Second))
		f.hear(arrival{f.hand.Now(), 0, mqtt.Delivery{Message: intake.Message{Topic: topic, Payload: []byte(p)}, Done: func() {}}})
	}
}

// kept are the values that the journal has of a series.
func (f faulty) kept(series string) []float64 {
	f.t.Helper()
	f.commit()
	list, err := f.journal.Readings(f.t.Context(), journal.Query{Series: series})
	if err != nil {
		f.t.Fatal(err)
	}
	var out []float64
	for _, r := range list {
		out = append(out, r.Value)
	}
	return out
}

// What isn't there is no reading: not a zero, and not the one before.
func TestMissingIsNotZero(t *testing.T) {
	f := begin(t, true)
	f.hears("t/node", `{"temperature":18.4,"pressure":2.1}`, `{"temperature":null,"pressure":2.2}`, `{"pressure":2.3}`, `null`, `{}`, ``)
	if got := f.kept("temperature/air"); !slices.Equal(got, []float64{18.4}) {
		t.Errorf("temperatures %v", got)
	}
	if got := f.kept("pressure/gauge"); !slices.Equal(got, []float64{2.1, 2.2, 2.3}) {
		t.Errorf("pressures %v", got)
	}
	if v := f.engine.View(); v.Sensors[0].Rejected != 5 || v.Sensors[1].Rejected != 3 {
		t.Errorf("refused %d and %d", v.Sensors[0].Rejected, v.Sensors[1].Rejected)
	}
}

// Numbers that devices send when they have none, each once between good ones:
// none is a reading, none raises anything, each is counted and has a reason
// (common practice, no source).
func TestSentinelsAreNoReadings(t *testing.T) {
	f := begin(t, false)
	words := []string{"85", "-127", "-126.6", "999", "0", "-0.0625", "127.9375", "341", "1000", "1200", "-99.5", "-100", "185", "-196.6", "79.5"}
	want := []float64{18.4}
	f.hears("t/air", "18.4")
	for _, w := range words {
		f.hears("t/air", w, "18.4")
		want = append(want, 18.4)
	}
	if got := f.kept("temperature/air"); !slices.Equal(got, want) {
		t.Errorf("kept %v", got)
	}
	v := f.engine.View()
	if v.Sensors[0].Rejected != int64(len(words)) || v.Sensors[0].Last == nil || v.Sensors[0].Last.Reason == "" {
		t.Errorf("refused %d of %d, the last because %+v", v.Sensors[0].Rejected, len(words), v.Sensors[0].Last)
	}
	if len(v.Recent) > 0 {
		t.Errorf("it told of %+v", v.Recent)
	}
}

// A device that changes from °C to °F for half an hour: where it says so its
// readings are converted, where not they are held. Nobody is told of heat.
func TestUnitThatFlips(t *testing.T) {
	for says, want := range map[bool]int{true: 180 + 60 + 60, false: 60 + 60} {
		f := begin(t, true)
		speak := func(celsius bool, n int) {
			for i := range n {
				number, unit := 18.4+float64(i%3)/10, "C"
				if !celsius {
					number, unit = number*1.8+32, "F"
				}
				named := ""
				if says {
					named = fmt.Sprintf(`,"TempUnit":%q`, unit)
				}
				f.hears("t/node", fmt.Sprintf(`{"temperature":%.2f,"pressure":1.2%s}`, number, named))
			}
		}
		speak(true, 60)
		speak(false, 180)
		speak(true, 60)
		got := f.kept("temperature/air")
		if len(got) != want || slices.Max(got) > 18.7 || slices.Min(got) < 18.3 {
			t.Errorf("unit told %v: %d readings, want %d, from %.2f to %.2f", says, len(got), want, slices.Min(got), slices.Max(got))
		}
		for _, a := range f.engine.View().Recent {
			if a.Name != alerts.SensorFault && a.Name != alerts.SensorSilent {
				t.Errorf("unit told %v: it told of %s: %s", says, a.Name, a.Summary)
			}
		}
	}
}

// A gauge in the wrong unit, or one of the air: refused with a hint, and never a
// false over-pressure.
func TestGaugeInTheWrongUnit(t *testing.T) {
	f := begin(t, false)
	f.hears("t/gauge", "2.1", "1013.2", "1013.4", "1013.3", "2.1", "210", "210", "30.5", "210000", "2.1")
	if got := f.kept("pressure/gauge"); !slices.Equal(got, []float64{2.1, 2.1, 2.1}) {
		t.Errorf("kept %v", got)
	}
	for _, a := range f.engine.View().Recent {
		if a.Name == alerts.OverPressure {
			t.Errorf("it told of %s", a.Summary)
		}
	}
}

// What a payload says of the time is not looked at: devices have no clock, or
// none in a zone that is known. A reading is of the instant at which it came,
// and a year 2099 blocks nothing.
func TestTimesInPayloadsAreNotRead(t *testing.T) {
	f := begin(t, true)
	times := []string{"1771000000", "1771000000123", "1771000000123456", "1771000000123456789", "1771000000.5", `"2026-02-13T16:26:40Z"`,
		`"2026-02-13T16:26:40"`, `"2026-02-13T17:26:40+0100"`, `"2026-02-13 16:26:40"`, "0", "null", `"2099-01-01T00:00:00Z"`, `"1771000000"`, "12345"}
	for i, x := range times {
		f.hears("t/node", fmt.Sprintf(`{"temperature":%.2f,"pressure":1.2,"Time":%s,"ts":%s}`, 18.4+float64(i)/100, x, x))
	}
	f.commit()
	list, err := f.journal.Readings(t.Context(), journal.Query{Series: "temperature/air"})
	if err != nil || len(list) != len(times) {
		t.Fatalf("%d of %d readings (%v)", len(list), len(times), err)
	}
	for i, r := range list {
		if want := f.hand.Now().Add(time.Duration(i+1-len(times)) * 10 * time.Second); !r.At.Equal(want) {
			t.Errorf("with the time %s: at %v, want %v", times[i], r.At, want)
		}
	}
}

// Readings of a recording that are out of order, repeated, or two of one
// instant: in order, each once, the first of two; the danger is seen in either.
func TestOutOfOrderAndConflicting(t *testing.T) {
	f := begin(t, false)
	start := f.hand.Now().Add(time.Minute)
	f.hand.move(start.Add(time.Hour))
	for _, x := range []struct {
		s   int
		bar string
	}{{10, "1.1"}, {20, "1.2"}, {30, "1.3"}, {20, "1.2"}, {10, "1.9"}, {40, "1.4"}, {50, "1.5"}, {50, "4.6"}, {60, "4.6"}} {
		at := start.Add(time.Duration(x.s) * time.Second)
		f.hear(arrival{at, 0, mqtt.Delivery{Message: intake.Message{Topic: "t/gauge", Payload: []byte(x.bar)}, Done: func() {}}})
	}
	if got := f.kept("pressure/gauge"); !slices.Equal(got, []float64{1.1, 1.2, 1.3, 1.4, 1.5, 4.6}) {
		t.Errorf("kept %v", got)
	}
	v := f.engine.View()
	if len(v.Alerts) != 1 || v.Alerts[0].Name != alerts.OverPressure {
		t.Errorf("alerts %+v", v.Alerts)
	}
}

// A gauge that says the very same for half a day, with the device's word that it
// is well, is named.
func TestGaugeThatStandsStill(t *testing.T) {
	f := begin(t, false)
	for m := range 3 * 24 * 60 {
		bar := 1.5 + float64(m)/10000 + float64(m%5)/1000
		if m > 36*60 {
			bar = 1.62
		}
		f.hand.move(f.hand.Now().Add(50 * time.Second))
		f.hears("t/gauge", fmt.Sprintf("%.3f", bar))
		if m%5 == 0 {
			f.hears("t/air", fmt.Sprintf("%.2f", 20+float64(m%7)/50))
		}
	}
	if !slices.ContainsFunc(f.engine.View().Alerts, func(a alerts.Alert) bool { return a.Name == alerts.SensorFault && a.Sensor == "gauge" }) {
		t.Errorf("alerts %+v", f.engine.View().Alerts)
	}
}

// A thousand payloads that are nothing say nothing in the log.
func TestRefusedPayloadsDontFloodTheLog(t *testing.T) {
	f := begin(t, false)
	for range 100 {
		f.hears("t/air", "inf", "nan", "1_000", "0x1p-2", "1e400", "−5", "18,4", "18.4 C", "online", "true")
	}
	if f.log.Len() > 0 {
		t.Errorf("the log says %.300s", f.log)
	}
	if v := f.engine.View(); v.Sensors[0].Rejected != 1000 || v.Sensors[0].Readings != 0 {
		t.Errorf("%+v", v.Sensors[0])
	}
}

// Nobody can be told for three hours, and the daemon starts anew in between:
// then it is told once, with the time at which it happened and how late that
// is. Until then it shows as not delivered.
func TestToldOnceAfterAnOutage(t *testing.T) {
	dir := t.TempDir()
	var told []alerts.Message
	down := errors.New("no route to anybody")
	life := func(begun time.Time, refuse bool, during func(w *watched, f *Follower)) {
		w := watch(t, dir)
		w.hand.move(begun)
		tell := &teller{name: "brewer", zone: time.UTC, pace: w.hand, stands: stillSo(w), log: quiet(), refused: new(aside), to: recipient(func(m alerts.Message) error {
			if refuse {
				return &notify.Error{Problem: down.Error()}
			}
			told = append(told, m)
			return nil
		})}
		f := &Follower{Name: "notify brewer", Journal: w.journal, Deliver: tell.gather, Flush: tell.flush, News: true, Log: quiet()}
		if err := f.Begin(t.Context()); err != nil {
			t.Fatal(err)
		}
		during(w, f)
		w.commit()
		w.journal.Close()
	}
	start := time.Date(2031, 3, 1, 14, 0, 0, 0, time.UTC)
	life(start, true, func(w *watched, f *Follower) {
		w.feed(engine.Input{At: start, Start: &engine.Start{}})
		w.feed(engine.Input{At: start, Open: &engine.Open{Lot: gauged(start.Add(-5 * 24 * time.Hour))}})
		for i := range 3 {
			at := start.Add(5*time.Minute + time.Duration(i)*time.Second)
			w.hear(arrival{at, 0, mqtt.Delivery{Message: intake.Message{Topic: "t/gauge", Payload: []byte("4.6")}, Done: func() {}}})
		}
		w.commit()
		if n, err := f.step(t.Context()); err == nil || n > 0 {
			t.Errorf("delivered %d (%v)", n, err)
		}
		if f.State().Behind == 0 {
			t.Error("it doesn't show that the notice is still to be delivered")
		}
	})
	life(start.Add(time.Hour), true, func(w *watched, f *Follower) {
		if _, err := f.step(t.Context()); err == nil || f.State().Behind == 0 {
			t.Errorf("after the restart: %v, %+v", err, f.State())
		}
	})
	life(start.Add(3*time.Hour), false, func(w *watched, f *Follower) {
		for range 3 {
			if _, err := f.step(t.Context()); err != nil {
				t.Error(err)
			}
		}
	})
	if len(told) != 1 || told[0].Alert != alerts.OverPressure || !told[0].Time.Equal(start.Add(5*time.Minute)) {
		t.Fatalf("told %+v", told)
	}
	if late := time.Duration(told[0].DelayedS) * time.Second; late < 174*time.Minute || late > 175*time.Minute {
		t.Errorf("told that it is %v late", late)
	}
}

// A way to one person that hangs holds up nobody else.
func TestOneWayThatHangsHoldsUpNobody(t *testing.T) {
	j, err := journal.Open(t.TempDir(), quiet())
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	ctx, stop := context.WithCancel(t.Context())
	hangs := func(ctx context.Context, _ []journal.Entry) error { <-ctx.Done(); return ctx.Err() }
	told := make(chan time.Time, 1)
	tells := func(context.Context, []journal.Entry) error { told <- time.Now(); return nil }
	var ended sync.WaitGroup
	for name, deliver := range map[string]func(context.Context, []journal.Entry) error{"hangs": hangs, "is well": tells} {
		f := &Follower{Name: name, Journal: j, News: true, Deliver: deliver, Log: quiet()}
		if err := f.Begin(ctx); err != nil {
			t.Fatal(err)
		}
		ended.Go(func() { f.Run(ctx) })
	}
	began := time.Now()
	say(t, j, 1)
	select {
	case at := <-told:
		t.Logf("told after %v", at.Sub(began))
	case <-time.After(5 * time.Second):
		t.Error("not told within 5 s")
	}
	stop()
	ended.Wait()
}

// A client id is the installation's own: it stays, and a copied configuration
// has another.
func TestClientIDIsTheInstallations(t *testing.T) {
	here, there := t.TempDir(), t.TempDir()
	var ids []string
	for _, dir := range []string{here, here, there} {
		id, err := clientID("conditiond", dir)
		if err != nil || !strings.HasPrefix(id, "conditiond-") {
			t.Fatal(id, err)
		}
		ids = append(ids, id)
	}
	if ids[0] != ids[1] || ids[0] == ids[2] {
		t.Errorf("%q", ids)
	}
	if err := os.WriteFile(filepath.Join(here, "client-id"), nil, 0o640); err != nil { // as a power cut leaves it
		t.Fatal(err)
	}
	if id, err := clientID("conditiond", here); err != nil || len(id) != len(ids[0]) {
		t.Error(id, err)
	}
}

// stillSo says whether what a notice is about still is.
func stillSo(w *watched) func(alerts.Message) bool {
	return func(m alerts.Message) bool {
		now := &Daemon{board: newBoard()}
		now.board.show(w.engine.View(), nil)
		return now.stands(m)
	}
}

type recipient func(alerts.Message) error

func (r recipient) Notify(_ context.Context, m alerts.Message) error { return r(m) }

// The watchdog of systemd is fed while the loop turns, and by nobody else
// (sd_notify(3): WATCHDOG=1 on the socket in NOTIFY_SOCKET).
func TestWatchdogIsFedByTheLoop(t *testing.T) {
	path := filepath.Join(t.TempDir(), "notify")
	socket, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: path, Net: "unixgram"})
	if err != nil {
		t.Fatal(err)
	}
	defer socket.Close()
	t.Setenv("NOTIFY_SOCKET", path)
	t.Setenv("WATCHDOG_USEC", "300000")
	fed := func(within time.Duration) bool {
		b := make([]byte, 100)
		for socket.SetReadDeadline(time.Now().Add(within)); ; {
			n, err := socket.Read(b)
			if err != nil {
				return false
			}
			if strings.Contains(string(b[:n]), "WATCHDOG=1") {
				return true
			}
		}
	}
	w := watch(t, t.TempDir())
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- w.run(ctx) }()
	for range 2 {
		if !fed(5 * time.Second) {
			t.Error("the loop turns, and the watchdog is not fed")
		}
	}
	stuck, free := make(chan struct{}), make(chan struct{})
	w.messages <- arrival{w.hand.Now(), 0, mqtt.Delivery{Message: intake.Message{Topic: "t/air", Payload: []byte("18")}, Done: func() { close(stuck); <-free }}}
	<-stuck
	for fed(10 * time.Millisecond) { // what was on its way
	}
	if fed(500 * time.Millisecond) {
		t.Error("the loop stands still, and the watchdog is fed")
	}
	close(free)
	if !fed(5 * time.Second) {
		t.Error("it turns again, and the watchdog is not fed")
	}
	stop()
	if err := <-ended; err != nil {
		t.Error(err)
	}
}

var testName = regexp.MustCompile(`\b(Test|Fuzz)[A-Z]\w+`)

// Every test that a page names exists, and every row of its tables of tests
// names one: of what goes wrong, and of what is defended.
func TestPagesNameTests(t *testing.T) {
	tests := testsOfTheTree(t)
	for page, least := range map[string]int{"../deploy/FAULTS.md": 100, "../deploy/security.md": 30} {
		text, err := os.ReadFile(page)
		if err != nil {
			t.Fatal(err)
		}
		names := testName.FindAllString(string(text), -1)
		if len(names) < least {
			t.Errorf("%s names only %d tests", page, len(names))
		}
		for _, name := range names {
			if !bytes.Contains(tests, []byte("\nfunc "+name+"(")) {
				t.Errorf("%s is named in %s, and there is no such test", name, page)
			}
		}
		for _, row := range untested(string(text)) {
			t.Errorf("%s: no test in %s", page, row)
		}
	}
	if got := untested("| fault | what happens | tests |\n| --- | --- | --- |\n| a | b | TestAny |\n| c | d | |\n"); len(got) != 1 {
		t.Errorf("rows without a test: %q", got)
	}
}

// untested are the rows of a page's tables whose last column is of tests, and
// names none.
func untested(page string) (rows []string) {
	within := false
	for line := range strings.Lines(page) {
		line = strings.TrimSpace(line)
		switch {
		case strings.HasSuffix(line, "| tests |"):
			within = true
		case !strings.HasPrefix(line, "|"):
			within = false
		case within && !strings.HasPrefix(line, "| ---") && !testName.MatchString(line):
			rows = append(rows, line)
		}
	}
	return rows
}

// testsOfTheTree is the text of all tests.
func testsOfTheTree(t *testing.T) (all []byte) {
	t.Helper()
	err := filepath.WalkDir("..", func(path string, _ fs.DirEntry, err error) error {
		if err != nil || !strings.HasSuffix(path, "_test.go") {
			return err
		}
		text, err := os.ReadFile(path)
		all = append(all, text...)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}
