package spelling

import (
	"strings"
	"testing"
)

// Counted by hand.
func TestCorrections(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{
		{"", "", 0}, {"", "wool", 4}, {"wool", "", 4}, {"wool", "wool", 0},
		{"wol", "wool", 1}, {"wooll", "wool", 1}, {"wood", "wool", 1}, {"wolo", "wool", 1},
		{"kitten", "sitting", 3}, {"ca", "abc", 3}, {"Dämmung", "Damnung", 2},
	} {
		if got := Corrections(c.a, c.b); got != c.want {
			t.Errorf("%q to %q: %d, want %d", c.a, c.b, got, c.want)
		}
		if got := Corrections(c.b, c.a); got != c.want {
			t.Errorf("%q to %q: %d, want %d", c.b, c.a, got, c.want)
		}
	}
	if got := Corrections(strings.Repeat("a", 1e6), "b"); got != longest {
		t.Errorf("a long word: %d, want %d", got, longest)
	}
}
