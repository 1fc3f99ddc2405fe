package climate

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"os"
	"strings"
	"testing"
	"time"

	"hackle/quantity"
)

// wellFormed parses the picture and returns the text of its elements by name.
func wellFormed(t *testing.T, svg []byte) map[string][]string {
	t.Helper()
	dec := xml.NewDecoder(bytes.NewReader(svg))
	texts := map[string][]string{}
	var open []string
	for {
		token, err := dec.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatalf("not well formed: %v", err)
		}
		switch token := token.(type) {
		case xml.StartElement:
			open = append(open, token.Name.Local)
			for _, a := range token.Attr {
				if strings.Contains(a.Value, "NaN") || strings.Contains(a.Value, "Inf") {
					t.Fatalf("%s %s=%q", token.Name.Local, a.Name.Local, a.Value)
				}
			}
		case xml.EndElement:
			open = open[:len(open)-1]
		case xml.CharData:
			if len(open) > 0 {
				name := open[len(open)-1]
				texts[name] = append(texts[name], string(token))
			}
		}
	}
	return texts
}

func TestPicture(t *testing.T) {
	year, err := Builtin("burlington-vt")
	if err != nil {
		t.Fatal(err)
	}
	days, err := netherlands(t).Hourly(Assumptions{})
	if err != nil {
		t.Fatal(err)
	}
	short, err := year.Window(time.Date(2023, 12, 20, 0, 0, 0, 0, year.Location()), time.Date(2024, 3, 2, 0, 0, 0, 0, year.Location()))
	if err != nil {
		t.Fatal(err)
	}
	hostile := *short
	hostile.Name = `<script>alert("1")</script> & 'x'`
	for _, c := range []struct {
		name  string
		s     *Series
		opts  PictureOptions
		words []string // that must stand in the texts
	}{
		{"typical", year, PictureOptions{}, []string{"a typical year", "bees fly", "Sun on the level, kWh/m² a day", "coldest week", "°C"}},
		{"US", year, PictureOptions{Units: quantity.US, ID: "a b\"c"}, []string{"°F", "mph", "ft"}},
		{"three years", days.WithSnow(), PictureOptions{Flight: 12}, []string{"3 years laid over each other", "Rain, mm a day", "Snow lying, cm"}},
		{"a winter", short, PictureOptions{}, []string{"73 days only"}},
		{"hostile name", &hostile, PictureOptions{}, []string{`<script>alert("1")</script> & 'x'`}},
	} {
		var out, again bytes.Buffer
		if err := Picture(&out, c.s, c.opts); err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if err := Picture(&again, c.s, c.opts); err != nil || !bytes.Equal(out.Bytes(), again.Bytes()) {
			t.Errorf("%s: differs from run to run", c.name)
		}
		texts := wellFormed(t, out.Bytes())
		all := strings.Join(texts["text"], "\n")
		for _, w := range c.words {
			if !strings.Contains(all, w) {
				t.Errorf("%s: no %q in\n%s", c.name, w, all)
			}
		}
		if len(texts["title"]) != 1 || len(texts["desc"]) != 1 || !strings.Contains(texts["title"][0], c.s.Name) || !strings.Contains(texts["desc"][0], "Bees fly on") {
			t.Errorf("%s: title %q, description %q", c.name, texts["title"], texts["desc"])
		}
		if out.Len() > 150_000 {
			t.Errorf("%s: %d bytes", c.name, out.Len())
		}
		if folder := os.Getenv("WEATHER_PICTURES"); folder != "" { // to look at
			if err := os.WriteFile(folder+"/"+strings.ReplaceAll(c.name, " ", "_")+".svg", out.Bytes(), 0o644); err != nil {
				t.Error(err)
			}
		}
	}
	if err := Picture(io.Discard, &Series{Name: "none"}, PictureOptions{}); err == nil {
		t.Error("a picture of nothing")
	}
	if err := Picture(brokenWriter{}, year, PictureOptions{}); err == nil {
		t.Error("a fault of the writer passed over")
	}
}

type brokenWriter struct{}

func (brokenWriter) Write([]byte) (int, error) { return 0, errors.New("no room") }

func BenchmarkPicture(b *testing.B) {
	s, err := Builtin("burlington-vt")
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if err := Picture(io.Discard, s, PictureOptions{}); err != nil {
			b.Fatal(err)
		}
	}
}
