package yard

import (
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
