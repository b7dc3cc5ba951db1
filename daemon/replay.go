package daemon

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"time"

	"conditiond/alerts"
	"conditiond/daemon/engine"
	"conditiond/daemon/intake"
	"conditiond/model"
	"conditiond/model/estimate"
)

// Replay runs recorded messages through the engine as live ones go through it,
// and writes what the engine says as JSON lines.
type Replay struct {
	Config *Config
	Lots   []model.Lot
	Every  time.Duration // of recorded time between estimates
	Until  time.Time     // zero = the end of the recording
	// Unread is told of each line that can't be read, with its number.
	Unread func(line int, err error)

	engine *engine.Engine
	out    *json.Encoder
}

// estimateLine and alertLine are the lines of a replay.
type estimateLine struct {
	Type string `json:"type"`
	estimate.Estimate
}

type alertLine struct {
	Type     string          `json:"type"`
	Time     time.Time       `json:"time"`
	Lot      string          `json:"lot,omitempty"`
	Sensor   string          `json:"sensor,omitempty"`
	Alert    alerts.Name     `json:"alert"`
	Severity alerts.Severity `json:"severity"`
	State    alerts.State    `json:"state"`
	Summary  string          `json:"summary"`
	Advice   string          `json:"advice"`
}

// maxLine is the longest line that is read; longer ones are counted unread.
const maxLine = 1 << 20

// Run reads a recording, plain or gzipped, to its end. Lines that can't be read
// are told and left out; an error is one of reading, writing, or of a lot that
// doesn't fit the configuration.
func (r *Replay) Run(in io.Reader, out io.Writer) error {
	var err error
	if r.engine, err = engine.New(closet(r.Config, r.Every)); err != nil {
		return err
	}
	lines, err := plain(in)
	if err != nil {
		return err
	}
	w := bufio.NewWriterSize(out, 1<<16)
	r.out = json.NewEncoder(w)
	r.out.SetEscapeHTML(false)
	if err := errors.Join(r.play(lines), w.Flush()); err != nil {
		return fmt.Errorf("replay: %w", err)
	}
	return nil
}

func (r *Replay) play(lines *bufio.Reader) error {
	for n := 1; ; n++ {
		line, err := nextLine(lines)
		if err == io.EOF {
			return r.end()
		}
		if err != nil && !errors.Is(err, errTooLong) {
			return err
		}
		if len(bytes.TrimSpace(line)) == 0 && err == nil {
			continue
		}
		var at time.Time
		var m intake.Message
		if err == nil {
			at, m, err = intake.ParseLine(line)
		}
		if err != nil {
			r.Unread(n, err)
			continue
		}
		if !r.Until.IsZero() && at.After(r.Until) {
			continue
		}
		if err := r.take(at, m); err != nil {
			return err
		}
	}
}

// take one message at its recorded time, after everything that was due before.
func (r *Replay) take(at time.Time, m intake.Message) error {
	if r.engine.Now().IsZero() {
		if err := r.begin(at); err != nil {
			return err
		}
	}
	if err := r.catchUp(at); err != nil {
		return err
	}
	return r.step(engine.Input{At: at, Stamped: at, Message: &m})
}

// begin opens the lots where the recording begins.
func (r *Replay) begin(at time.Time) error {
	if err := r.step(engine.Input{At: at, Start: &engine.Start{}}); err != nil {
		return err
	}
	for _, l := range r.Lots {
		if err := r.step(engine.Input{At: at, Open: &engine.Open{Lot: l}}); err != nil {
			return fmt.Errorf("lot %s: %w", l.ID, err)
		}
	}
	return nil
}

func (r *Replay) catchUp(to time.Time) error {
	for next := r.engine.Next(); !next.After(to); next = r.engine.Next() {
		if err := r.step(engine.Input{At: next, Tick: true}); err != nil {
			return err
		}
	}
	return nil
}

func (r *Replay) end() error {
	if r.Until.IsZero() || r.engine.Now().IsZero() {
		return nil
	}
	return r.catchUp(r.Until)
}

func (r *Replay) step(in engine.Input) error {
	en, err := r.engine.Step(in)
	if err != nil {
		return err
	}
	r.engine.Apply(en)
	for _, a := range en.Alerts {
		if a.State == alerts.Returned { // nobody is there who could acknowledge it
			a.State = alerts.Cleared
		}
		if err := r.out.Encode(alertLine{"alert", a.Time, a.Lot, a.Sensor, a.Name, a.Severity, a.State, a.Summary, a.Advice}); err != nil {
			return err
		}
	}
	for _, e := range en.Estimates {
		if err := r.out.Encode(estimateLine{"estimate", e}); err != nil {
			return err
		}
	}
	return nil
}

// plain is the recording's text, whether it is gzipped or not.
func plain(in io.Reader) (*bufio.Reader, error) {
	b := bufio.NewReaderSize(in, 1<<16)
	if head, _ := b.Peek(2); !bytes.Equal(head, []byte{0x1f, 0x8b}) {
		return b, nil
	}
	z, err := gzip.NewReader(b)
	if err != nil {
		return nil, fmt.Errorf("unpack the recording: %w", err)
	}
	return bufio.NewReaderSize(z, 1<<16), nil
}

var errTooLong = errors.New("longer than a megabyte")

// nextLine without its end. A line that is too long is read past.
func nextLine(b *bufio.Reader) ([]byte, error) {
	var whole []byte
	long := false
	for {
		part, err := b.ReadSlice('\n')
		if !long {
			whole = append(whole, part...)
		}
		long = long || len(whole) > maxLine
		switch {
		case err == bufio.ErrBufferFull:
			continue
		case err == io.EOF && len(whole) == 0:
			return nil, io.EOF
		case err != nil && err != io.EOF:
			return nil, err
		case long:
			return nil, errTooLong
		}
		return whole, nil
	}
}
