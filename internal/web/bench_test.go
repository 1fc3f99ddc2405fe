package web

import (
	"fmt"
	"html"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	ical "github.com/emersion/go-ical"

	"hackle/climate"
)

// TestBench goes through workshop, calendar and report as a keeper does.
func TestBench(t *testing.T) {
	now := time.Date(2026, 8, 20, 9, 0, 0, 0, time.UTC)
	s := open(t, func(c *Config) { c.Now = func() time.Time { return now } })
	hive := strings.TrimSuffix(s.firstHive(), "/winter")

	got := s.get(hive + "/workshop")
	if got.status != 200 || !strings.Contains(got.body, "What shall be made?") || !strings.Contains(got.body, "insulating wall panels") && !strings.Contains(got.body, "Insulating wall panels") {
		t.Fatalf("an empty workshop: %d\n%s", got.status, got.body)
	}
	make := url.Values{"make": {"entrance-reducer", "lid=mineral wool 76 mm"}, "copies": {"2"}}.Encode()
	got = s.get(hive + "/workshop?" + make)
	for _, says := range []string{"Everything fits.", "Insulated lid insert", "<svg", "Retaining strip"[1:], "Steps", "The prices are invented", "Take care", "as=dxf", "On sheets and boards", "To lift"} {
		if !strings.Contains(got.body, says) {
			t.Errorf("the workshop does not say %q", says)
		}
	}
	links := regexp.MustCompile(`href="(/hive/[^"]+/(?:workshop|report)[^"]*[?][^"]+)"`).FindAllStringSubmatch(got.body, -1)
	if len(links) < 20 {
		t.Errorf("%d links of drawings and files", len(links))
	}
	for i, m := range links {
		if i > 8 && i < len(links)-4 { // some of them
			continue
		}
		if at := html.UnescapeString(m[1]); !strings.Contains(at, "/report?") {
			if got := s.get(at); got.status != 200 {
				t.Errorf("%s: %d", at, got.status)
			}
		}
	}
	if strings.Contains(got.body, "style=") {
		t.Error("the page has a style that its policy forbids")
	}
	for query, says := range map[string]string{
		"make=canoe":                      "is nothing that can be made",
		"make=wall-panels%3Dcork+33+mm":   "no stock of cork",
		"make=floor-tray":                 "no mesh",
		"change=tilt%3D3%C2%B0":           "Nothing of this has to be made",
		"make=%3Cscript%3Ealert(1)":       "&lt;script&gt;",
		"change=lid%3Dmineral+wool+76+mm": "Insulated lid insert",
	} {
		if got := s.get(hive + "/workshop?" + query); got.status != 200 || !strings.Contains(got.body, says) {
			t.Errorf("%s: %d, no %q", query, got.status, says)
		}
	}
	for path, want := range map[string]struct {
		status       int
		kind, begins string
	}{
		"/workshop.pdf?" + make + "&paper=Letter":   {200, "application/pdf", "%PDF-1."},
		"/workshop/drawing?" + make + "&n=1&as=svg": {200, "image/svg+xml", "<svg"},
		"/workshop/drawing?" + make + "&n=1&as=dxf": {200, "image/vnd.dxf", "  0\r\nSECTION"},
		"/workshop/drawing?" + make + "&n=2&as=pdf": {200, "application/pdf", "%PDF-1."},
		"/workshop/drawing?" + make + "&n=99":       {422, "", ""},
		"/workshop/drawing?" + make + "&n=1&as=dwg": {422, "", ""},
		"/workshop.pdf":                                                            {422, "", ""},
		"/workshop.pdf?" + make + "&paper=A0":                                      {422, "", ""},
		"/workshop?make=body&copies=0":                                             {422, "", ""},
		"/workshop?" + strings.Repeat("make=body&", 1):                             {200, "text/html; charset=utf-8", "<!doctype html>"},
		"/workshop?make=" + strings.Repeat("x", 300):                               {422, "", ""},
		"/workshop?make=a&make=b&make=c&make=d&make=e&make=f&make=g&make=h&make=i": {422, "", ""},
	} {
		got := s.get(hive + path)
		if got.status != want.status || want.kind != "" && got.header.Get("Content-Type") != want.kind || !strings.HasPrefix(got.body, want.begins) {
			t.Errorf("%s: %d %s %.20q", path, got.status, got.header.Get("Content-Type"), got.body)
		}
	}

	got = s.settled(hive + "/calendar")
	for _, says := range []string{"Last day to give syrup", "Unwrap, not before this day", `<time datetime="2027-0`, "How we know", "calendar.ics", "label"} {
		if !strings.Contains(got.body, says) {
			t.Errorf("the calendar does not say %q", says)
		}
	}
	file := s.get(hive + "/calendar.ics")
	cal, err := ical.NewDecoder(strings.NewReader(file.body)).Decode()
	if err != nil || len(cal.Children) < 8 || !strings.HasPrefix(file.header.Get("Content-Disposition"), "attachment") {
		t.Errorf("the file of the calendar: %v, %s", err, file.header.Get("Content-Disposition"))
	}
	if got := s.get(hive + "/calendar.svg"); got.status != 200 || !strings.HasPrefix(got.body, "<svg") {
		t.Errorf("the strip: %d", got.status)
	}

	// From changes the way leads to what is made of them.
	s.settled(hive + "/changes?change=lid%3Dmineral+wool+76+mm")
	changed := s.get(hive + "/changes?change=lid%3Dmineral+wool+76+mm")
	if m := regexp.MustCompile(`href="([^"]+/workshop[?][^"]+)"`).FindStringSubmatch(changed.body); m == nil {
		t.Error("changes do not lead to the workshop")
	} else if got := s.get(html.UnescapeString(m[1])); !strings.Contains(got.body, "Insulated lid insert") {
		t.Errorf("%s does not make the lid", m[1])
	}

	// Weather of the coming days, when it is kept, warns.
	if strings.Contains(s.get(hive+"/calendar").body, "Hot spell") {
		t.Error("a hot spell without a forecast")
	}
	ahead := &climate.Series{Name: "coming days", Latitude: 44.47, Longitude: -73.15, Zone: -5 * time.Hour, Start: time.Date(2026, 8, 20, 0, 0, 0, 0, time.FixedZone("", -5*3600)), MidOffset: 30 * time.Minute}
	for h := range 7 * 24 {
		temp := 24.0
		if h >= 48 && h < 120 {
			temp = 36
		}
		ahead.Hours = append(ahead.Hours, climate.Hour{TempAir: temp, RelHumidity: 0.5, Pressure: 1e5})
	}
	if _, err := s.store.AddWeather(t.Context(), ahead); err != nil {
		t.Fatal(err)
	}
	if got := s.get(hive + "/calendar"); !strings.Contains(got.body, "Hot spell: up to 36") || !strings.Contains(got.body, "from 22 August") || !strings.Contains(got.body, "Today: water close by") {
		t.Errorf("a kept forecast does not warn: %s", got.body)
	}

	got = s.get(hive + "/report?make=body&make=wall-panels%3Dcork+50+mm")
	if got.status != 200 || !strings.Contains(got.body, `value="body" checked`) || !strings.Contains(got.body, "wall-panels=cork 50 mm") {
		t.Errorf("the page of the report: %d", got.status)
	}
	got = s.settled(hive + "/report.html?make=lid-insulation")
	for _, says := range []string{"<!doctype html>", "The worst hours", "To cut and buy", "The calendar", "By the hedge"} {
		if !strings.Contains(got.body, says) {
			t.Errorf("the report does not say %q", says)
		}
	}
	got = s.settled(hive + "/report.pdf?paper=Letter")
	if got.header.Get("Content-Type") != "application/pdf" || !strings.Contains(got.body, "/MediaBox [0 0 612.00 792.00]") || len(got.body) > 2_000_000 {
		t.Errorf("the PDF: %s, %d bytes", got.header.Get("Content-Type"), len(got.body))
	}
	home := s.get("/")
	m := regexp.MustCompile(`href="(/yard/[^"]+/report.html)"`).FindStringSubmatch(home.body)
	if m == nil {
		t.Fatal("the yard leads to no report")
	}
	if got := s.get(m[1]); got.status != 200 || !strings.Contains(got.body, "By the hedge") || !strings.Contains(got.body, "The calendar") {
		t.Errorf("the report of the yard: %d", got.status)
	}
	if got := s.get("/yard/none/report.pdf"); got.status != 404 {
		t.Errorf("the report of no yard: %d", got.status)
	}
	if got := s.get("/hive/none/workshop"); got.status != 404 {
		t.Errorf("the workshop of no hive: %d", got.status)
	}
}

// TestBrowserBench holds workshop, calendar and report against the audit of access
// and the width of a phone, with something worked out on them.
func TestBrowserBench(t *testing.T) {
	s := open(t, nil)
	hive := strings.TrimSuffix(s.firstHive(), "/winter")
	w := see(t, s, 360)
	s.settled(hive + "/calendar")
	for _, width := range []int64{360, 1280} {
		w.do(chromedp.EmulateViewport(width, 900))
		for _, path := range []string{hive + "/workshop?make=lid-insulation&make=frame-wires", hive + "/workshop?make=floor-tray", hive + "/calendar", hive + "/report"} {
			w.open(path)
			w.eventually("waiting for "+path, "document.readyState === 'complete'")
			w.fits()
			w.audit(fmt.Sprintf("%s, %d px", path, width))
		}
	}
}
