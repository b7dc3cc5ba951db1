package intake

import (
	"bytes"
	"strconv"
)

// number reads a plain decimal number: a sign, digits, a fraction, an exponent
// of one or two digits. That is narrower than strconv.ParseFloat, which also
// takes inf, nan, 0x1p-2 and 1_000.
func number(text []byte) (float64, error) {
	text = bytes.Trim(text, " \t\r\n")
	if !plain(text) {
		return 0, notANumber(text)
	}
	v, err := strconv.ParseFloat(string(text), 64)
	if err != nil {
		return 0, notANumber(text)
	}
	return v, nil
}

// plain tells whether the text has the form that number takes.
func plain(s []byte) bool {
	const longest = 40
	if len(s) > longest {
		return false
	}
	s = afterSign(s)
	rest := afterDigits(s)
	if len(rest) == len(s) {
		return false
	}
	if len(rest) > 0 && rest[0] == '.' {
		s = rest[1:]
		if rest = afterDigits(s); len(rest) == len(s) {
			return false
		}
	}
	if len(rest) > 0 && (rest[0] == 'e' || rest[0] == 'E') {
		s = afterSign(rest[1:])
		rest = afterDigits(s)
		if n := len(s) - len(rest); n < 1 || n > 2 {
			return false
		}
	}
	return len(rest) == 0
}

func afterSign(s []byte) []byte {
	if len(s) > 0 && (s[0] == '-' || s[0] == '+') {
		return s[1:]
	}
	return s
}

func afterDigits(s []byte) []byte {
	for len(s) > 0 && s[0] >= '0' && s[0] <= '9' {
		s = s[1:]
	}
	return s
}

// notANumber says so in the words that help most.
func notANumber(text []byte) error {
	if rest := afterDigits(afterSign(text)); len(rest) > 0 && len(rest) < len(text) && rest[0] == ',' {
		return because(NotANumber, "%s has a decimal comma; a number like 18.4 would be right", shown(text))
	}
	for _, word := range []string{"online", "offline", "unavailable", "unknown", "none", "null", "nan", "-nan", "--", "err", "error"} {
		if bytes.EqualFold(text, []byte(word)) {
			return because(Unavailable, "%s means that there is no value; a number like 18.4 would be right", shown(text))
		}
	}
	if len(text) > 0 && (text[0] == '{' || text[0] == '[') {
		return because(NotANumber, "%s is JSON: a pointer would say where its value is", shown(text))
	}
	return because(NotANumber, "%s is not a plain decimal number like 18.4", shown(text))
}
