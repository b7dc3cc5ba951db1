package journal

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"log/slog"
	"maps"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// TestPowerCut records what a journal's process asks of the system, and cuts the
// power after each of its writes, syncs and renames: with all that was written
// on the card, with only what was synced, and with any part of the rest, sector
// by sector. Each time the journal opens, everything is there that was called
// durable before the cut, and no group is there in part. What was cut off on its
// way is told.
//
// The model: a file's content is on the card when fsync or fdatasync of it
// returned, a name when fsync of its folder did (POSIX promises no more). The
// -shm is left out: SQLite makes it anew when nobody has it open
// (https://www.sqlite.org/walformat.html).
func TestPowerCut(t *testing.T) {
	ops := record(t)
	d := disk{names: map[string]*file{}, synced: map[string]*file{}, rng: rand.New(rand.NewPCG(1, 2))}
	cuts, cutOff := 0, 0
	for i, o := range ops {
		d.do(o)
		images := map[string]map[string][]byte{}
		switch o.call {
		case "told", "fsync", "fdatasync":
			images["only what was synced"] = d.least()
		default:
			images["all written"] = d.all()
			if i%2 == 0 {
				images["some sectors"] = d.some()
			}
		}
		for how, image := range images {
			cuts++
			log := afterCut(t, fmt.Sprintf("%s, cut after operation %d (%s %s)", how, i, o.call, o.name), image, d.told)
			told := strings.Contains(log, "cut off")
			if how == "all written" && told != d.underway {
				t.Errorf("operation %d: a group was underway %v, told %v", i, d.underway, told)
			}
			if told {
				cutOff++
			}
		}
	}
	t.Logf("%d operations, %d cuts, %d of them within a group", len(ops), cuts, cutOff)
	if cutOff == 0 || d.told < 100 || cuts < 100 {
		t.Error("the recording holds too little")
	}
}

// afterCut opens what a cut left and returns what the log says.
func afterCut(t *testing.T, what string, image map[string][]byte, durable int64) string {
	t.Helper()
	dir := t.TempDir()
	for name, data := range image {
		write(t, filepath.Join(dir, name), data)
	}
	var log bytes.Buffer
	j, err := Open(dir, slog.New(slog.NewTextHandler(&log, nil)))
	if err != nil {
		t.Fatalf("%s: %v", what, err)
	}
	defer j.Close()
	cursor, err := j.Cursor(t.Context(), "a")
	if err != nil || j.Last() < durable || j.Last()%7 != 0 || cursor != j.Last() && j.Last() > 0 {
		t.Fatalf("%s: %d entries, cursor %d (%v); %d were called durable", what, j.Last(), cursor, err, durable)
	}
	for i, e := range after(t, j, 0, 1e6) {
		if !reflect.DeepEqual(e, numbered(int64(i)+1)) {
			t.Fatalf("%s: entry %d is %+v", what, i+1, e)
		}
	}
	return log.String()
}

// writeTwoLives is what the recorded process does: it fills a journal, closes
// it, and goes on with it. Its checkpoints come often.
func writeTwoLives(dir string) error {
	for range 2 {
		j, err := Open(dir, slog.New(slog.DiscardHandler))
		if err != nil {
			return err
		}
		if _, err := j.db.Exec(`PRAGMA wal_autocheckpoint = 20`); err != nil {
			return err
		}
		for range 8 {
			for range 7 {
				if _, err := j.Append(numbered(j.next)); err != nil {
					return err
				}
			}
			j.SetCursor("a", j.next-1)
			j.Keep("state", j.next-1, make([]byte, 1500))
			if err := j.Commit(); err != nil {
				return err
			}
			fmt.Println(j.Last())
		}
		if err := j.Close(); err != nil {
			return err
		}
	}
	return nil
}

// op is one thing that the process asked of the system.
type op struct {
	call, name, to string // names within the journal's folder; "." is the folder
	data           []byte
	at             int64 // an offset, or a length
}

// record runs writeTwoLives under strace.
func record(t *testing.T) []op {
	t.Helper()
	strace, err := exec.LookPath("strace")
	if err != nil {
		if strings.Contains(os.Getenv("CONDITIOND_REQUIRE"), "strace") {
			t.Fatal("no strace here, and CONDITIOND_REQUIRE wants one")
		}
		t.Skip("did without a power cut: ", err)
	}
	dir, out := t.TempDir(), filepath.Join(t.TempDir(), "trace")
	c := exec.Command(strace, "-f", "-y", "-xx", "-s", "65536", "-o", out, "-e", "signal=none",
		"-e", "trace=?open,openat,?creat,write,pwrite64,ftruncate,fallocate,fsync,fdatasync,?unlink,unlinkat,?rename,?renameat,renameat2", os.Args[0])
	c.Env = append(os.Environ(), "JOURNAL_TEST_LIVES="+dir, "GODEBUG=asyncpreemptoff=1")
	if text, err := c.CombinedOutput(); err != nil {
		if strings.Contains(string(text), "PTRACE") {
			t.Skipf("did without a power cut: nothing may be traced here: %s", text)
		}
		t.Fatalf("%v: %s", err, text)
	}
	var ops []op
	for line := range strings.Lines(whole(string(read(t, out)))) {
		if o, ok := parse(line, dir); ok {
			ops = append(ops, o)
		}
	}
	return ops
}

// whole joins the two halves in which strace writes a call that another thread's
// came between, and puts it where it ended.
func whole(trace string) string {
	const cut = " <unfinished ...>\n"
	resumed := regexp.MustCompile(`^\d+ +<\.\.\. \w+ resumed>`)
	begun := map[string]string{}
	var out strings.Builder
	for line := range strings.Lines(trace) {
		pid, _, _ := strings.Cut(line, " ")
		if head, ok := strings.CutSuffix(line, cut); ok {
			begun[pid] = head
			continue
		}
		if tail := resumed.FindString(line); tail != "" {
			line = begun[pid] + line[len(tail):]
		}
		out.WriteString(line)
	}
	return out.String()
}

var (
	called = regexp.MustCompile(`^\d+ +(\w+)\((.*)\) += (\d+)`)
	quoted = regexp.MustCompile(`"((?:\\x[0-9a-f]{2})*)"`)
	opened = regexp.MustCompile(`^\d+<((?:\\x[0-9a-f]{2})*)>`)
)

// parse a call that succeeded on something in the folder, or on standard output.
func parse(line, dir string) (op, bool) {
	m := called.FindStringSubmatch(line)
	if m == nil {
		return op{}, false
	}
	o := op{call: strings.TrimSuffix(strings.TrimSuffix(m[1], "2"), "at")}
	args := strings.Split(m[2], ", ")
	var texts []string
	for _, q := range quoted.FindAllStringSubmatch(m[2], -1) {
		texts = append(texts, unhex(q[1]))
	}
	if fd := opened.FindStringSubmatch(args[0]); fd != nil {
		o.name = within(dir, unhex(fd[1]))
	}
	if strings.HasPrefix(args[0], "1<") {
		return op{call: "told", at: number(strings.TrimSpace(texts[0]))}, true
	}
	switch o.call {
	case "open":
		o.name = within(dir, texts[0])
		if !strings.Contains(m[2], "O_CREAT") {
			return op{}, false
		}
	case "unlink":
		o.name = within(dir, texts[0])
	case "rename":
		o.name, o.to = within(dir, texts[0]), within(dir, texts[1])
	case "write":
		o.data, o.at = []byte(texts[0]), -1
	case "pwrite64":
		o.data, o.at = []byte(texts[0]), number(args[3])
	case "ftruncate":
		o.at = number(args[1])
	}
	ignored := o.name == "" || strings.HasSuffix(o.name, "-shm") || strings.HasSuffix(o.name, ".lock")
	return o, !ignored
}

func number(s string) int64 {
	n, _ := strconv.ParseInt(s, 10, 64)
	return n
}

func unhex(s string) string {
	s, _ = strconv.Unquote(`"` + s + `"`)
	return s
}

// within is a path's name in the folder, empty outside of it.
func within(dir, path string) string {
	name, err := filepath.Rel(dir, path)
	if err != nil || strings.HasPrefix(name, "..") {
		return ""
	}
	return name
}

// disk is a folder on a card: what was asked of it, and what it promised.
type disk struct {
	names, synced map[string]*file
	told          int64 // the last entry called durable
	rng           *rand.Rand

	underway bool // pages of a group are in the -wal, and its end isn't
	ending   bool // the page that comes is the group's last
}

type file struct {
	data, synced []byte
	pending      []op // since the last sync
}

func (d *disk) do(o op) {
	f := d.names[o.name]
	switch o.call {
	case "told":
		d.told = o.at
	case "open", "creat":
		if f == nil {
			d.names[o.name] = &file{}
		}
	case "write", "pwrite64", "ftruncate":
		f.data = o.on(f.data)
		f.pending = append(f.pending, o)
		if o.name == fileName+"-wal" {
			d.follow(o.data)
		}
	case "fsync", "fdatasync":
		if o.name == "." {
			d.synced = maps.Clone(d.names)
			return
		}
		f.synced, f.pending = bytes.Clone(f.data), nil
	case "unlink":
		delete(d.names, o.name)
	case "rename":
		d.names[o.to] = f
		delete(d.names, o.name)
	default:
		panic("the model doesn't know " + o.call)
	}
}

// follow what is written to the -wal: each page has a header before it, and that
// of a group's last page isn't 0 in its second word.
func (d *disk) follow(data []byte) {
	switch len(data) {
	case frameHeader:
		d.underway, d.ending = true, binary.BigEndian.Uint32(data[4:]) != 0
	case pageSize:
		d.underway = !d.ending
	}
}

// on is a file's content after the operation.
func (o op) on(data []byte) []byte {
	if o.call == "ftruncate" {
		return append(bytes.Clone(data[:min(len(data), int(o.at))]), make([]byte, max(0, int(o.at)-len(data)))...)
	}
	if o.at < 0 {
		return append(bytes.Clone(data), o.data...)
	}
	out := append(bytes.Clone(data), make([]byte, max(0, int(o.at)+len(o.data)-len(data)))...)
	copy(out[o.at:], o.data)
	return out
}

func (d *disk) all() map[string][]byte {
	out := map[string][]byte{}
	for name, f := range d.names {
		out[name] = f.data
	}
	return out
}

func (d *disk) least() map[string][]byte {
	out := map[string][]byte{}
	for name, f := range d.synced {
		out[name] = f.synced
	}
	return out
}

// some of what wasn't synced reached the card, in sectors.
func (d *disk) some() map[string][]byte {
	names := d.synced
	if d.rng.IntN(2) == 0 {
		names = d.names
	}
	out := map[string][]byte{}
	for name, f := range names {
		data := f.synced
		for _, o := range f.pending {
			data = d.part(o).on(data)
		}
		out[name] = data
	}
	return out
}

const sector = 512

// part of a write, from or up to a sector's border, or nothing of it.
func (d *disk) part(o op) op {
	if o.call == "ftruncate" || len(o.data) == 0 {
		return o
	}
	at := max(0, o.at)
	border := min(int64(len(o.data)), (at/sector+1+d.rng.Int64N(2))*sector-at)
	switch d.rng.IntN(4) {
	case 0:
		o.data = nil
	case 1:
		o.data = o.data[:border]
	case 2:
		if o.at >= 0 {
			o.data, o.at = o.data[border:], o.at+border
		}
	}
	return o
}
