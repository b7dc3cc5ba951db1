package daemon

import (
	"context"
	"encoding/base64"
	"encoding/json"
	"net"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"conditiond/daemon/journal"
)

// TestUpgradeKeepsWatching starts on a state whose estimates are of an earlier
// form: it watches at once, and lives through the past between messages.
func TestUpgradeKeepsWatching(t *testing.T) {
	dir := t.TempDir()
	w := watch(t, dir)
	end := w.start(t)
	lot := gauged(w.hand.Now().Add(-10 * 24 * time.Hour))
	w.open(t, lot)
	if err := end(); err != nil {
		t.Fatal(err)
	}
	age(t, w.journal)
	if err := w.journal.Close(); err != nil {
		t.Fatal(err)
	}

	w = watch(t, dir)
	if !w.engine.Behind() {
		t.Fatal("there is no past to be lived through")
	}
	log := make(lines, 100)
	w.log = textTo(log)
	w.seq = w.journal.Last()
	end = w.start(t)
	for range 3 {
		w.say("t/gauge", "4.5")
	}
	awaited(t, "a danger is seen", func() bool { v, _, _ := w.board.look(); return len(v.Alerts) > 0 })
	awaited(t, "the past is lived through", func() bool {
		select {
		case line := <-log:
			return strings.Contains(line, "up to date again")
		default:
			return false
		}
	})
	if err := end(); err != nil || w.engine.Behind() {
		t.Error(err, w.engine.Behind())
	}
}

// lines of a log.
type lines chan string

func (l lines) Write(b []byte) (int, error) {
	l <- string(b)
	return len(b), nil
}

// start the loop; the function ends it.
func (w *watched) start(t *testing.T) (end func() error) {
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- w.run(ctx) }()
	return func() error { stop(); return <-ended }
}

// age the kept state: a checkpoint begins with the number of its form.
func age(t *testing.T, j *journal.Journal) {
	t.Helper()
	seq, state, err := j.Kept(t.Context(), snapshotName)
	var k map[string]any
	if err == nil {
		err = json.Unmarshal(state, &k)
	}
	if err != nil {
		t.Fatal(err)
	}
	lot := k["Lots"].([]any)[0].(map[string]any)
	checkpoint, err := base64.StdEncoding.DecodeString(lot["Estimator"].(string))
	if err != nil {
		t.Fatal(err)
	}
	checkpoint[0] = 1
	lot["Estimator"] = base64.StdEncoding.EncodeToString(checkpoint)
	if state, err = json.Marshal(k); err == nil {
		err = j.Keep(snapshotName, seq, state)
	}
	if err == nil {
		err = j.Commit()
	}
	if err != nil {
		t.Fatal(err)
	}
}

// A start that takes long asks systemd for time, batch by batch (sd_notify(3):
// EXTEND_TIMEOUT_USEC=), and isn't ended for it.
func TestALongStartAsksForTime(t *testing.T) {
	path := filepath.Join(t.TempDir(), "notify")
	socket, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: path, Net: "unixgram"})
	if err != nil {
		t.Fatal(err)
	}
	defer socket.Close()
	t.Setenv("NOTIFY_SOCKET", path)
	watch(t, t.TempDir()) // reads its journal
	socket.SetReadDeadline(time.Now().Add(5 * time.Second))
	b := make([]byte, 100)
	n, err := socket.Read(b)
	if err != nil || !strings.HasPrefix(string(b[:n]), "EXTEND_TIMEOUT_USEC=") {
		t.Errorf("it said %q, %v", b[:n], err)
	}
}
