package journal

import (
	"encoding/binary"
	"io"
	"os"
)

// What the -wal looks like: https://www.sqlite.org/fileformat2.html#the_write_ahead_log
const (
	walHeader   = 32
	frameHeader = 24 // before each page
)

// frames counts the pages that a -wal holds of its present generation, whole or
// torn: those with the header's salt. 0 where there is no -wal.
func frames(path string) int {
	f, err := os.Open(path)
	if err != nil {
		return 0
	}
	defer f.Close()
	header := make([]byte, walHeader)
	if _, err := io.ReadFull(f, header); err != nil {
		return 0
	}
	size, salt := int64(binary.BigEndian.Uint32(header[8:])), string(header[16:24])
	frame := make([]byte, frameHeader)
	for n := 0; ; n++ {
		_, err := f.ReadAt(frame, walHeader+int64(n)*(frameHeader+size))
		if err != nil || string(frame[8:16]) != salt {
			return n
		}
	}
}

// tellCut says when a write was cut off before its end: of the pages that were
// found, SQLite takes those up to the last whole group.
func (j *Journal) tellCut(found int) error {
	var busy, taken, done int
	if err := j.db.QueryRow(`PRAGMA wal_checkpoint(PASSIVE)`).Scan(&busy, &taken, &done); err != nil {
		return err
	}
	if found > taken {
		j.log.Warn("a write was cut off, by a power cut or a kill: it is left out, and what was committed before is there", "path", j.Path, "pages", found-taken)
	}
	return nil
}
