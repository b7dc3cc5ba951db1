package journal

import (
	"encoding/binary"
	"errors"
	"math"
	"time"
)

// An entry's readings, compactly. Each is: the series' number (uvarint), its
// time less the entry's in nanoseconds (varint), the value (8 bytes, little
// endian). A reading taken as it arrives is 10 bytes.

// errTorn: an entry's readings don't read as they were written.
var errTorn = errors.New("an entry's readings are damaged")

func encode(readings []Reading, at time.Time, ids map[string]int64) []byte {
	b := []byte{} // not nil, which would be stored as NULL
	for _, r := range readings {
		b = binary.AppendUvarint(b, uint64(ids[r.Series]))
		b = binary.AppendVarint(b, r.At.UnixNano()-at.UnixNano())
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(r.Value))
	}
	return b
}

func decode(b []byte, at time.Time, names map[int64]string) ([]Reading, error) {
	var readings []Reading
	for len(b) > 0 {
		id, n := binary.Uvarint(b)
		ago, m := binary.Varint(b[max(n, 0):])
		if n <= 0 || m <= 0 || len(b) < n+m+8 {
			return nil, errTorn
		}
		name, ok := names[int64(id)]
		if !ok {
			return nil, errTorn
		}
		value := math.Float64frombits(binary.LittleEndian.Uint64(b[n+m:]))
		readings = append(readings, Reading{name, instant(at.UnixNano() + ago), value})
		b = b[n+m+8:]
	}
	return readings, nil
}

// instant is the time that is stored as ns, in UTC as all that comes out is.
func instant(ns int64) time.Time { return time.Unix(0, ns).UTC() }
