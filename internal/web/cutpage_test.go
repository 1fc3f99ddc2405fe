package web

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"image/png"
	"io"
	"regexp"
	"strings"
	"testing"

	"hackle/internal/cutaway"
)

// The style sheet of the drawings is the one that package cutaway makes:
//
//	go test ./internal/web -run TestCutawayStyle
//
// fails with what to put there.
func TestCutawayStyle(t *testing.T) {
	kept, err := embedded.ReadFile("assets/cutaway.css")
	if err != nil {
		t.Fatal(err)
	}
	if string(kept) != cutaway.Style() {
		t.Errorf("assets/cutaway.css is not cutaway.Style(); it should read\n%s", cutaway.Style())
	}
}

var drawingIn = regexp.MustCompile(`(?s)<svg xmlns="http://www.w3.org/2000/svg" class="cutaway[^"]*".*?</svg>`)

func wellFormed(t *testing.T, text string) {
	t.Helper()
	d := xml.NewDecoder(strings.NewReader(text))
	for {
		if _, err := d.Token(); err == io.EOF {
			return
		} else if err != nil {
			t.Fatalf("not well formed: %v", err)
		}
	}
}

func TestCutawayPage(t *testing.T) {
	s := open(t, nil)
	hive := s.firstHive()
	got := s.settled(hive + "/cutaway")
	if got.status != 200 {
		t.Fatalf("%d\n%s", got.status, got.body)
	}
	drawing := drawingIn.FindString(got.body)
	wellFormed(t, drawing)
	for _, says := range []string{"outdoors", "under the lid", "Worst moments", "Coldest under the lid", "seen from the left", "Stores lowest", `type="range"`, "In words", "cutaway.svg?", "cutaway.png?"} {
		if !strings.Contains(got.body, says) {
			t.Errorf("the page does not say %q", says)
		}
	}
	for _, no := range []string{"<style", " style=", "onclick", "<script>"} {
		if strings.Contains(got.body, no) {
			t.Errorf("the page holds %q, which its policy forbids", no)
		}
	}

	// The page of an hour shows the drawing of that hour, in links alone.
	front := s.get(hive + "/cutaway?hour=6000&section=front&measures=1")
	if front.status != 200 || !strings.Contains(front.body, "seen from behind") || !strings.Contains(front.body, "22 June 2026, 00:00") || !strings.Contains(front.body, "softwood") {
		t.Errorf("hour 6000 from behind: %d", front.status)
	}
	if drawingIn.FindString(front.body) == drawing {
		t.Error("another hour has the same drawing")
	}
	link := regexp.MustCompile(`data-moment="(\d+)"`).FindStringSubmatch(got.body)
	if link == nil || s.get(hive+"/cutaway?hour="+link[1]).status != 200 {
		t.Errorf("the link of a moment leads nowhere: %v", link)
	}

	svg := s.get(hive + "/cutaway.svg?hour=100&section=side")
	wellFormed(t, svg.body)
	if svg.header.Get("Content-Type") != "image/svg+xml" || !strings.Contains(svg.header.Get("Content-Disposition"), "by-the-hedge-side-") || !strings.Contains(svg.body, "<style>") || strings.Contains(svg.body, "var(") {
		t.Errorf("the drawing to keep: %v", svg.header)
	}
	picture := s.get(hive + "/cutaway.png?hour=100&section=front&width=300")
	if img, err := png.Decode(bytes.NewReader([]byte(picture.body))); err != nil || img.Bounds().Dx() != 300 {
		t.Errorf("the picture to keep: %v", err)
	}

	var year struct {
		Hours    int              `json:"hours"`
		Channels []map[string]any `json:"channels"`
		Moves    map[string]any   `json:"moves"`
	}
	if err := json.Unmarshal([]byte(s.get(hive+"/cutaway.json").body), &year); err != nil || year.Hours != 8760 || len(year.Channels) < 50 || len(year.Moves) != 2 {
		t.Errorf("the hours: %v, %d hours, %d channels, %d sections", err, year.Hours, len(year.Channels), len(year.Moves))
	}
	var words cutWords
	if err := json.Unmarshal([]byte(s.get(hive+"/cutaway/words?hour=100&x=0&z=0.25").body), &words); err != nil || words.Hour != 100 || words.Place == nil || words.Place.Temp == nil || words.Said == "" || len(words.Readings) < 10 {
		t.Errorf("the words of an hour: %v, %+v", err, words)
	}

	for _, bad := range []string{"/cutaway?hour=-1", "/cutaway?hour=8760", "/cutaway?hour=x", "/cutaway?section=top", "/cutaway.png?width=9", "/cutaway.png?width=100000", "/cutaway/words?x=1e9&z=0", "/cutaway/words?x=0&z=NaN"} {
		if got := s.get(hive + bad); got.status != 422 || !strings.Contains(got.body, "accepted") {
			t.Errorf("%s is answered with %d", bad, got.status)
		}
	}
	if got := s.get("/hive/01a210a4-3ffa-73af-9f20-3d88d18c4f8a/cutaway"); got.status != 404 {
		t.Errorf("a hive that is not there: %d", got.status)
	}
}
