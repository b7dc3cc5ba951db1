package mqtt

import (
	"bufio"
	"fmt"
	"io"
	"net"

	"conditiond/daemon/intake"
)

// frames is a connection whose incoming packets are bounded before the library
// makes room for them. A message with a giant payload arrives with its
// beginning only, is refused as too big and acknowledged; cutting the
// connection would bring it again and again.
type frames struct {
	net.Conn
	in   *bufio.Reader
	head []byte // of a packet, still to be handed on
	pass int64  // bytes of it to hand on
	skip int64  // bytes of it to leave out after those
}

// longest packet that is handed on: any topic, and a payload that is just too
// big for intake.
const longest = 2 + 1<<16 + 2 + intake.MaxPayload + 1

func bound(c net.Conn) *frames { return &frames{Conn: c, in: bufio.NewReader(c)} }

func (f *frames) Read(p []byte) (int, error) {
	if len(f.head) == 0 && f.pass == 0 {
		if err := f.next(); err != nil {
			return 0, err
		}
	}
	if len(f.head) > 0 {
		n := copy(p, f.head)
		f.head = f.head[n:]
		return n, nil
	}
	n, err := f.in.Read(p[:min(int64(len(p)), f.pass)])
	f.pass -= int64(n)
	return n, err
}

// next packet's header (MQTT 3.1.1, section 2.2).
func (f *frames) next() error {
	if _, err := io.CopyN(io.Discard, f.in, f.skip); err != nil {
		return err
	}
	f.skip = 0
	kind, err := f.in.ReadByte()
	if err != nil {
		return err
	}
	length, err := f.length()
	if err != nil {
		return err
	}
	const publish = 3
	if length > longest {
		if kind>>4 != publish {
			return fmt.Errorf("the broker announces a packet of %d bytes", length)
		}
		length, f.skip = longest, length-longest
	}
	f.head, f.pass = header(kind, length), length
	return nil
}

func (f *frames) length() (n int64, err error) {
	for shift := 0; shift < 28; shift += 7 {
		b, err := f.in.ReadByte()
		if err != nil {
			return 0, err
		}
		n |= int64(b&0x7f) << shift
		if b < 0x80 {
			return n, nil
		}
	}
	return 0, fmt.Errorf("the broker speaks no MQTT: a length of more than four bytes")
}

func header(kind byte, length int64) []byte {
	head := []byte{kind}
	for length >= 0x80 {
		head = append(head, byte(length)|0x80)
		length >>= 7
	}
	return append(head, byte(length))
}
