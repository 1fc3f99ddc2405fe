package yard

import (
	"crypto/sha256"
	"fmt"
	"strings"
	"time"

	"github.com/google/uuid"
)

// ID names one thing for ever: a UUID of version 7 (RFC 9562) in lower case, whose
// first part is the time it was made, so that IDs sort by age. Whoever writes a
// thing down makes its ID, a phone without a network too.
type ID string

// NewID makes an ID of now.
func NewID() (ID, error) {
	u, err := uuid.NewV7()
	if err != nil {
		return "", fmt.Errorf("making an ID: %w", err)
	}
	return ID(u.String()), nil
}

// ParseID reads an ID in its usual form of 36 characters, in either case.
func ParseID(text string) (ID, error) {
	u, err := uuid.Parse(text)
	if err != nil || len(text) != 36 || u.Version() != 7 || u.Variant() != uuid.RFC4122 {
		return "", fmt.Errorf("%q is no ID; wanted a UUID of version 7 such as 01890a5d-ac96-774b-bcce-b302099a8057", text)
	}
	return ID(strings.ToLower(u.String())), nil
}

// Valid reports whether the ID is one that ParseID returns.
func (id ID) Valid() bool {
	parsed, err := ParseID(string(id))
	return err == nil && parsed == id
}

// Made returns the time that the ID says it was made, zero for an ID that is not
// valid. The clock was that of the machine that made it.
func (id ID) Made() time.Time {
	u, err := uuid.Parse(string(id))
	if err != nil || u.Version() != 7 {
		return time.Time{}
	}
	s, ns := u.Time().UnixTime()
	return time.Unix(s, ns).UTC()
}

// IDFrom makes an ID from what a thing says, for rows of a table that carry none:
// the same row gives the same ID, so that a table read twice is kept once. Its time
// is at.
func IDFrom(at time.Time, parts ...string) ID {
	h := sha256.New()
	for _, p := range parts {
		fmt.Fprintf(h, "%d:%s", len(p), p)
	}
	var u uuid.UUID
	copy(u[:], h.Sum(nil))
	ms := max(at.UnixMilli(), 0)
	for i := range 6 {
		u[i] = byte(ms >> (8 * (5 - i)))
	}
	u[6] = u[6]&0x0f | 0x70 // version 7
	u[8] = u[8]&0x3f | 0x80 // variant of RFC 9562
	return ID(u.String())
}
