package climate

import (
	"strconv"
	"strings"
)

// FileError refuses a weather file. Its message is one line: file, line, field,
// what was found, what is accepted.
type FileError struct {
	File     string
	Line     int    // 1-based, 0 when it concerns the whole file
	Field    string // what the value was meant to be, "" when it concerns the line or the file
	Found    string
	Accepted string
	Err      error // the cause when it came from elsewhere, else nil
}

// Error implements error.
func (e *FileError) Error() string {
	var b strings.Builder
	b.WriteString(e.File)
	if e.Line > 0 {
		b.WriteString(": line ")
		b.WriteString(strconv.Itoa(e.Line))
	}
	if e.Field != "" {
		b.WriteString(": ")
		b.WriteString(e.Field)
	}
	if e.Found != "" {
		b.WriteString(": found ")
		b.WriteString(e.Found)
	}
	if e.Accepted != "" {
		b.WriteString("; accepted: ")
		b.WriteString(e.Accepted)
	}
	if e.Err != nil {
		b.WriteString(": ")
		b.WriteString(e.Err.Error())
	}
	return b.String()
}

// Unwrap returns the cause.
func (e *FileError) Unwrap() error { return e.Err }

// quote shows a piece of a file in a message, cut to a length that stays
// readable.
func quote(b []byte) string {
	const most = 40
	if len(b) > most {
		cut := most
		for cut > 0 && b[cut]&0xC0 == 0x80 { // not in the middle of a character
			cut--
		}
		return strconv.Quote(string(b[:cut])) + "..."
	}
	return strconv.Quote(string(b))
}
