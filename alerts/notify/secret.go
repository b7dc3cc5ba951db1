package notify

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"
)

// Secret is where a secret is kept: the path of a file, or env:NAME for a
// variable of the environment. It prints as "…", since somebody will put the
// secret itself there by mistake.
type Secret string

// Read gives the secret as it is now, without the line end that editors add.
// It is read at each use, so a changed password needs no restart.
func (s Secret) Read() (string, error) {
	if name, ok := strings.CutPrefix(string(s), "env:"); ok {
		return filled(os.Getenv(name), "the environment variable has no value")
	}
	data, err := os.ReadFile(string(s))
	if cause, ok := errors.AsType[*fs.PathError](err); ok {
		err = cause.Err // it quotes the path
	}
	if err != nil {
		return "", fmt.Errorf("the file can't be read: %w; the path of one would be right, or env:NAME", err)
	}
	return filled(strings.TrimRight(string(data), "\r\n"), "the file is empty")
}

func filled(secret, otherwise string) (string, error) {
	if strings.TrimSpace(secret) == "" {
		return "", errors.New(otherwise)
	}
	return secret, nil
}

// Exposed says whether others than the owner and the group may read the file.
func (s Secret) Exposed() bool {
	info, err := os.Stat(string(s))
	return err == nil && info.Mode().Perm()&0o007 != 0
}

// Format prints "…" for every verb.
func (Secret) Format(f fmt.State, _ rune) { f.Write([]byte("…")) }

// MarshalText writes "…", into YAML and JSON and logs too; nothing where none is
// set.
func (s Secret) MarshalText() ([]byte, error) {
	if s == "" {
		return nil, nil
	}
	return []byte("…"), nil
}
