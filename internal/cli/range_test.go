package cli

import (
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A day in January, drawn a few times.
func shortRange(file string, more ...string) []string {
	return append([]string{"range", file, "--weather", "burlington-vt", "--from", "2026-01-15", "--to", "2026-01-16", "--draws", "4", "--years", "2"}, more...)
}

// TestRange prints ranges, the same for any number of workers, and keeps its draws.
func TestRange(t *testing.T) {
	file := example(t, 0)
	keep := filepath.Join(t.TempDir(), "draws.jsonl")
	one := run(t, shortRange(file, "--json", "--workers", "1", "--resume", keep)...)
	if one.code != Done {
		t.Fatalf("code %d: %s", one.code, one.errOut)
	}
	two := run(t, shortRange(file, "--json", "--workers", "4")...)
	if two.out != one.out {
		t.Error("four workers give another answer than one")
	}
	again := run(t, shortRange(file, "--json", "--resume", keep)...)
	if again.out != one.out {
		t.Error("the kept draws give another answer")
	}
	var r struct {
		Answer string `json:"answer"`
		Draws  int    `json:"draws"`
		Years  int    `json:"weather_years"`
		Lines  []struct {
			Key string `json:"key"`
			P50 struct {
				Value float64 `json:"value"`
			} `json:"p50"`
		} `json:"lines"`
		Stores struct {
			Nine struct {
				Value float64 `json:"value"`
			} `json:"nine_in_ten_kg"`
		} `json:"stores"`
	}
	if err := json.Unmarshal([]byte(one.out), &r); err != nil {
		t.Fatal(err)
	}
	if r.Draws != 4 || r.Years != 2 || len(r.Lines) < 50 || r.Stores.Nine.Value <= 0 || !strings.Contains(r.Answer, "nine winters of ten") {
		t.Errorf("answer %+v", r)
	}
	text := run(t, shortRange(file, "--units", "us", "--fail-on", "starve,wet,comb", "--resume", keep)...)
	if text.code != Done || !strings.Contains(text.out, "9 in 10") || !strings.Contains(text.out, "lb") {
		t.Errorf("code %d, %s%s", text.code, text.out, text.errOut)
	}
	// Another question does not write into the file of this one.
	before, err := os.ReadFile(keep)
	if err != nil {
		t.Fatal(err)
	}
	other := run(t, shortRange(file, "--resume", keep, "--seed", "2")...)
	after, _ := os.ReadFile(keep)
	if other.code != BadInput || !strings.Contains(other.errOut, keep) || string(before) != string(after) {
		t.Errorf("code %d, %s", other.code, other.errOut)
	}
}

// TestRangeRefuses what it cannot draw, and says what it takes.
func TestRangeRefuses(t *testing.T) {
	file := example(t, 0)
	for _, c := range []struct {
		more []string
		want string
	}{
		{[]string{"--draws", "0"}, "1 to 1000000"},
		{[]string{"--method", "halton"}, "sobol"},
		{[]string{"--years", "9999"}, "1 to 150"},
		{[]string{"--steps", "0"}, "1 to 60"},
		{[]string{"--shares", "8"}, "--what-matters"},
		{[]string{"--honey-within", "200%"}, "honey"},
		{[]string{"--enough", "150%"}, "enough"},
		{[]string{"--also", "phoenix-az"}, "one place"},
		{[]string{"--also", "no-such-place"}, "no-such-place"},
		{[]string{"--fail-on", "rain"}, "starve, wet and comb"},
	} {
		if r := run(t, shortRange(file, c.more...)...); r.code != BadInput || !strings.Contains(r.errOut, c.want) {
			t.Errorf("%v: code %d, %s", c.more, r.code, r.errOut)
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if r := runIn(t, ctx, shortRange(file)...); r.code != Interrupted || r.out != "" {
		t.Errorf("cancelled: code %d, %s", r.code, r.out)
	}
}
