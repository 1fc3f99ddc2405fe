package climate

import (
	"bytes"
	"compress/gzip"
	"errors"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf16"
)

func TestOpenFaults(t *testing.T) {
	dir := t.TempDir()
	packed, err := weatherFiles.ReadFile("weather/burlington-vt.epw.gz")
	if err != nil {
		t.Fatal(err)
	}
	pack := func(text []byte) []byte {
		var b bytes.Buffer
		z := gzip.NewWriter(&b)
		if _, err := z.Write(text); err != nil {
			t.Fatal(err)
		}
		if err := z.Close(); err != nil {
			t.Fatal(err)
		}
		return b.Bytes()
	}
	damaged := append([]byte(nil), packed...)
	damaged[len(damaged)/2] ^= 0x55
	var wide []byte
	for _, c := range utf16.Encode([]rune("\ufeffLOCATION,Burlington")) {
		wide = append(wide, byte(c), byte(c>>8))
	}
	lines := builtinLines(t, "burlington-vt")
	latin := append([]string(nil), lines...)
	latin[99] = setField(latin[99], 5, "\xb0")
	for _, c := range []struct {
		name    string
		content []byte
		line    int
		found   string
	}{
		{"empty.epw", nil, 0, "an empty file"},
		{"empty.epw.gz", pack(nil), 0, "an empty file"},
		{"binary.epw", []byte("LOCATION\nab\x00cd"), 2, "binary"},
		{"archive.epw", []byte("PK\x03\x04...."), 0, "zip archive"},
		{"wide.epw", wide, 1, "UTF-16"},
		{"latin.epw", []byte(strings.Join(latin, "\n")), 100, "not UTF-8"},
		{"short.epw.gz", packed[:len(packed)/2], 0, "cut short"},
		{"header.epw.gz", packed[:6], 0, "cut short"},
		{"damaged.epw.gz", damaged, 0, "damaged"},
		{"huge.epw.gz", pack(make([]byte, largestFile+1)), 0, "more than 200 MB"},
		{"letter.txt", []byte("Dear bees,\n"), 1, `"Dear bees,"`},
		{"rows.epw", []byte(strings.Join(lines[8:], "\n")), 1, `"1987,1,1,1`},
	} {
		path := filepath.Join(dir, c.name)
		if err := os.WriteFile(path, c.content, 0o600); err != nil {
			t.Fatal(err)
		}
		_, err := Open(path)
		var refused *FileError
		if !errors.As(err, &refused) {
			t.Errorf("%s: error %v, want a FileError", c.name, err)
			continue
		}
		if refused.File != c.name || refused.Line != c.line || !strings.Contains(refused.Found, c.found) || refused.Accepted == "" {
			t.Errorf("%s: %v\n want line %d, found %q", c.name, err, c.line, c.found)
		}
		if strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: more than one line: %v", c.name, err)
		}
	}
	if _, err := Open(filepath.Join(dir, "none.epw")); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("missing file: %v", err)
	}
	if _, err := Open(dir); err == nil || !strings.Contains(err.Error(), "a directory") {
		t.Errorf("directory: %v", err)
	}
	if err := os.WriteFile(filepath.Join(dir, "letter.txt.map.yaml"), []byte("version: 9\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(filepath.Join(dir, "letter.txt")); err == nil || !strings.Contains(err.Error(), "letter.txt.map.yaml") {
		t.Errorf("faulty map: %v", err)
	}
}

func TestOpenGzip(t *testing.T) {
	want, err := Builtin("phoenix-az")
	if err != nil {
		t.Fatal(err)
	}
	got, err := Open("weather/phoenix-az.epw.gz")
	if err != nil {
		t.Fatal(err)
	}
	if len(got.Hours) != len(want.Hours) || got.Hours[4567] != want.Hours[4567] {
		t.Error("the file differs from the built-in weather")
	}
}

func TestLoad(t *testing.T) {
	s, err := Load("chicago-il")
	if err != nil || s.Latitude != 41.98 {
		t.Errorf("built-in: %v", err)
	}
	if s, err = Load("testdata/yard.csv"); err != nil || s.Latitude != 47.2 {
		t.Errorf("file: %v", err)
	}
	if _, err = Load("atlantis"); err == nil || !strings.Contains(err.Error(), "hackle weather list") {
		t.Errorf("neither: %v", err)
	}
	if _, err = Builtin("../testdata/yard"); err == nil {
		t.Error("a path leads out of the built-in weather")
	}
}

func TestBuiltinNames(t *testing.T) {
	sites := builtinSites(t)
	names := BuiltinNames()
	if len(names) != len(sites) {
		t.Fatalf("%d names of %d sites: %v", len(names), len(sites), names)
	}
	size, files := 0, 0
	for i, site := range sites {
		if names[i] != site.Name {
			t.Errorf("%s is named %s", site.Name, names[i])
		}
		if site.Basis != TypicalYear {
			continue
		}
		files++
		s, err := Builtin(site.Name)
		if err != nil {
			t.Errorf("%s: %v", site.Name, err)
			continue
		}
		checkComplete(t, s)
		if len(s.Hours) != 8760 || !s.Typical {
			t.Errorf("%s: typical %v, %d hours", site.Name, s.Typical, len(s.Hours))
		}
		// The table says of the file what the file says of itself.
		if math.Abs(s.Latitude-site.Latitude) > 0.006 || math.Abs(s.Longitude-site.Longitude) > 0.006 || s.Height != site.Height || s.Zone != site.Zone {
			t.Errorf("%s: the file lies at %g, %g, %g m, %v", site.Name, s.Latitude, s.Longitude, s.Height, s.Zone)
		}
		packed, err := weatherFiles.ReadFile(weatherDir + site.Name + builtinTail)
		if err != nil {
			t.Fatal(err)
		}
		size += len(packed)
	}
	packed, err := weatherFiles.ReadDir(strings.TrimSuffix(weatherDir, "/"))
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range packed {
		if strings.HasSuffix(f.Name(), builtinTail) {
			files--
		}
	}
	if files != 0 {
		t.Errorf("%d sites more than files", files)
	}
	if size > 6<<20 {
		t.Errorf("the weather takes %d bytes of the program, more than 6 MB", size)
	}
}

func TestWindProfile(t *testing.T) {
	factor := func(name string, height float64) float64 {
		t.Helper()
		p, err := ProfileFor(name)
		if err != nil {
			t.Fatal(err)
		}
		return p.Factor(height)
	}
	// Open country at the anemometer is the anemometer; below, the logarithmic law.
	for _, c := range []struct{ height, want float64 }{
		{10, 1}, {50, 1}, {2, math.Log(2/0.03) / math.Log(10/0.03)}, {0.5, math.Log(0.5/0.03) / math.Log(10/0.03)}, {0, math.Log(0.2/0.03) / math.Log(10/0.03)},
	} {
		if got := factor("open", c.height); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("open at %g m: %g, want %g", c.height, got, c.want)
		}
	}
	// FAO Irrigation and Drainage Paper 56, equation 47, from 10 m to 2 m over
	// clipped grass: 4.87/ln(67.8·10-5.42) = 0.748. Its grass is smoother (0.015 m)
	// than that around a station here (0.03 m), which makes 0.02.
	if got, want := factor("open", 2), 4.87/math.Log(67.8*10-5.42); math.Abs(got-want) > 0.03 {
		t.Errorf("open at 2 m: %g, FAO 56 %g", got, want)
	}
	names := []string{"open", "hedged", "wood edge", "sheltered"}
	for i := 1; i < len(names); i++ {
		if a, b := factor(names[i-1], 0.5), factor(names[i], 0.5); !(b < a && b > 0) {
			t.Errorf("%s %g is not calmer than %s %g", names[i], b, names[i-1], a)
		}
	}
	if _, err := ProfileFor("windy"); err == nil || !strings.Contains(err.Error(), "wood edge") {
		t.Errorf("unknown exposure: %v", err)
	}
	if got := (WindProfile{Roughness: -1, ShelterFactor: -1}).Factor(1); got != 0 {
		t.Errorf("nonsense profile: %g", got)
	}
}

// Standard atmosphere, ISO 2533 (from memory): 1000 m 89,875 Pa, 3000 m 70,109 Pa,
// tables in geopotential height, given to the whole pascal.
func TestStandardPressure(t *testing.T) {
	for _, c := range []struct{ height, want, tolerance float64 }{{0, 101325, 0.5}, {1000, 89875, 2}, {3000, 70109, 2}} {
		if got := StandardPressure(c.height); math.Abs(got-c.want) > c.tolerance {
			t.Errorf("at %g m %g Pa, want %g", c.height, got, c.want)
		}
	}
}
