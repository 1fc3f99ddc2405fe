package climate

import (
	"bytes"
	"strconv"
)

// parseFloat reads a decimal number. Plain decimals of up to 15 digits, nearly
// everything in a weather file, take a short path that is exact: both the
// digits and the power of ten are whole float64 numbers, so that one rounded
// division gives the nearest float64. The rest goes to strconv. Words such as
// "Inf" and "NaN" and hexadecimal numbers are no numbers here.
func parseFloat(b []byte) (float64, bool) {
	i, neg := 0, false
	if i < len(b) && (b[i] == '-' || b[i] == '+') {
		neg = b[i] == '-'
		i++
	}
	var mantissa uint64
	digits, decimals, point := 0, 0, false
	for ; i < len(b); i++ {
		switch c := b[i]; {
		case c >= '0' && c <= '9':
			mantissa = mantissa*10 + uint64(c-'0')
			digits++
			if point {
				decimals++
			}
		case c == '.' && !point:
			point = true
		default:
			return parseFloatSlow(b)
		}
		if digits > 15 {
			return parseFloatSlow(b)
		}
	}
	if digits == 0 {
		return 0, false
	}
	v := float64(mantissa) / pow10[decimals]
	if neg {
		v = -v
	}
	return v, true
}

func parseFloatSlow(b []byte) (float64, bool) {
	for _, c := range b {
		if (c < '0' || c > '9') && c != '.' && c != '-' && c != '+' && c != 'e' && c != 'E' {
			return 0, false
		}
	}
	v, err := strconv.ParseFloat(string(b), 64)
	if err != nil { // out of range too
		return 0, false
	}
	return v, true
}

// pow10 holds the powers of ten up to the 15 decimals of the short path.
var pow10 = [...]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15}

// parseInt reads a small unsigned whole number, spaces around it allowed.
func parseInt(b []byte) (int, bool) {
	b = trim(b)
	if len(b) == 0 || len(b) > 9 {
		return 0, false
	}
	n := 0
	for _, c := range b {
		if c < '0' || c > '9' {
			return 0, false
		}
		n = n*10 + int(c-'0')
	}
	return n, true
}

// trim drops spaces and tabs at both ends.
func trim(b []byte) []byte {
	for len(b) > 0 && (b[0] == ' ' || b[0] == '\t') {
		b = b[1:]
	}
	for len(b) > 0 && (b[len(b)-1] == ' ' || b[len(b)-1] == '\t') {
		b = b[:len(b)-1]
	}
	return b
}

// splitter walks through the lines of a text.
type splitter struct {
	rest []byte
	line int // number of the line last returned
}

// next returns the next line without its end (LF, CR LF, or a lone CR as the
// last byte).
func (s *splitter) next() ([]byte, bool) {
	if len(s.rest) == 0 {
		return nil, false
	}
	s.line++
	var l []byte
	l, s.rest = cutLine(s.rest)
	return l, true
}

func cutLine(b []byte) (line, rest []byte) {
	line = b
	if i := bytes.IndexByte(b, '\n'); i >= 0 {
		line, rest = b[:i], b[i+1:]
	}
	if n := len(line); n > 0 && line[n-1] == '\r' {
		line = line[:n-1]
	}
	return line, rest
}
