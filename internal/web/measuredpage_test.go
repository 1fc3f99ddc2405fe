package web

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"mime/multipart"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"hackle/climate"
	"hackle/colony"
	"hackle/fit"
	"hackle/internal/answer"
	"hackle/logger"
	"hackle/season"
	"hackle/yard"
)

// sendParts sends a multipart form; parts are name, file name (empty: none) and text.
func (s *site) sendParts(path string, parts ...[3]string) answered {
	s.t.Helper()
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	for _, p := range parts {
		make := func() (io.Writer, error) { return w.CreateFormField(p[0]) }
		if p[1] != "" {
			make = func() (io.Writer, error) { return w.CreateFormFile(p[0], p[1]) }
		}
		part, err := make()
		if err != nil {
			s.t.Fatal(err)
		}
		part.Write([]byte(p[2]))
	}
	w.Close()
	r := s.request("POST", path, b.String())
	r.Header.Set("Content-Type", w.FormDataContentType())
	return s.do(r)
}

// TestMeasuredPages goes the way of a keeper in the browser: take in a logger's file,
// place its sensors, compare, and see the picture. All of it is invented; the engine
// made the readings.
func TestMeasuredPages(t *testing.T) {
	s := open(t, nil)
	at := s.firstHive()
	id := yard.ID(strings.TrimPrefix(at, "/hive/"))
	if g := s.get(at + "/measured"); g.status != 200 || !strings.Contains(g.body, "No sensor hangs in this hive yet") {
		t.Fatalf("before anything: %d", g.status)
	}
	h, err := s.store.Hives.Get(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	builds, err := s.store.BuildsOf(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	plan, _, err := answer.ReadHive("x", strings.NewReader(builds[0].File))
	if err != nil {
		t.Fatal(err)
	}
	w, err := climate.Load("burlington-vt")
	if err != nil {
		t.Fatal(err)
	}
	from := time.Date(2025, 12, 1, 0, 0, 0, 0, w.Location())
	if w, err = w.Window(from, from.AddDate(0, 0, 8)); err != nil {
		t.Fatal(err)
	}
	w.Typical = false
	tr, err := season.Run(context.Background(), season.Input{Plan: plan, Weather: w, Biology: colony.DefaultBiology()}, nil)
	if err != nil {
		t.Fatal(err)
	}
	computed, _, err := fit.ComputedAt(tr, &fit.Series{Name: "top", Quantity: logger.Temperature, Place: fit.Inside, Height: 0.4, Column: "flank"})
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(1, 1))
	var log strings.Builder
	log.WriteString("time,T\n")
	for i, v := range computed {
		fmt.Fprintf(&log, "%s,%.2f\n", w.Start.Add(time.Duration(i)*time.Hour).UTC().Format("2006-01-02T15:04Z"), v+2+0.1*rng.NormFloat64())
	}
	const columns = "version: 1\ntime: {column: time, zone: UTC}\ncolumns: [{column: T, sensor: oak top, quantity: temperature, unit: °C}]\n"

	if g := s.sendParts("/loggers/upload", [3]string{"file", "oak.csv", log.String()}); g.status != 422 || !strings.Contains(g.body, "choose a saved map") {
		t.Errorf("without a map: %d", g.status)
	}
	if g := s.sendParts("/loggers/upload", [3]string{"map", "m.yaml", "version: 9"}, [3]string{"file", "oak.csv", log.String()}); g.status != 422 || !strings.Contains(g.body, "version 9") {
		t.Errorf("a map of another version: %d", g.status)
	}
	if g := s.sendParts("/loggers/upload", [3]string{"map", "m.yaml", columns}, [3]string{"file", "oak.csv", "a,b\n1,2\n"}); g.status != 422 || !strings.Contains(g.body, "column names") {
		t.Errorf("another file: %d", g.status)
	}
	g := s.sendParts("/loggers/upload", [3]string{"map", "m.yaml", columns}, [3]string{"name", "", "oak"}, [3]string{"file", "oak.csv", log.String()})
	if g.status != 200 || !strings.Contains(g.body, "192 new") {
		t.Fatalf("taken in: %d %s", g.status, g.body)
	}
	if g := s.sendParts("/loggers/upload", [3]string{"saved", "", "oak"}, [3]string{"file", "oak.csv", log.String()}); !strings.Contains(g.body, "192 there already") {
		t.Errorf("again, by the saved map: %d", g.status)
	}
	sensors, err := s.store.Sensors(t.Context())
	if err != nil || len(sensors) != 1 {
		t.Fatal(sensors, err)
	}
	sensor := fmt.Sprint(sensors[0].ID)
	if g := s.post("/loggers/place", url.Values{"sensor": {sensor}, "place": {"inside"}, "hive": {string(id)}, "height": {"high"}, "column": {"flank"}}); g.status != 422 || !strings.Contains(g.body, "such as 420 mm") {
		t.Errorf("a height that is none: %d", g.status)
	}
	if g := s.post("/loggers/place", url.Values{"sensor": {sensor}, "place": {"inside"}, "hive": {string(id)}, "height": {"400 mm"}, "column": {"flank"}}); g.status != 200 || !strings.Contains(g.body, "inside 400 mm flank, "+h.Name) {
		t.Errorf("placed: %d", g.status)
	}
	if g := s.get("/loggers"); !strings.Contains(g.body, "/loggers/year.svg?year=2025") {
		t.Errorf("the year of readings is not shown: %d", g.status)
	}
	year := s.get("/loggers/year.svg?year=2025")
	if year.status != 200 || !strings.Contains(year.body, "oak top (temperature)") {
		t.Errorf("the year of readings: %d", year.status)
	}
	wellFormed(t, year.body)
	if g := s.get("/loggers/year.svg?year=soon"); g.status != 422 {
		t.Errorf("a year that is none: %d", g.status)
	}
	if g := s.get("/loggers/year.svg?year=1990"); g.status != 404 {
		t.Errorf("a year without readings: %d", g.status)
	}
	if g := s.get(at + "/measured"); !strings.Contains(g.body, "a typical year") {
		t.Error("a typical year is not told")
	}
	kept, err := s.store.AddWeather(t.Context(), w)
	if err != nil {
		t.Fatal(err)
	}
	y, err := s.store.Yards.Get(t.Context(), h.Yard)
	if err != nil {
		t.Fatal(err)
	}
	y.Weather = "series:" + string(kept.ID)
	if _, err := s.store.Yards.Put(t.Context(), y); err != nil {
		t.Fatal(err)
	}
	g = s.get(at + "/measured")
	days := regexp.MustCompile(`name="(from|to)" value="(\d{4}-\d\d-\d\d)"`).FindAllStringSubmatch(g.body, -1)
	if len(days) != 2 {
		t.Fatalf("no days are offered: %s", g.body)
	}
	form := url.Values{"from": {"2025-12-01"}, "to": {"2025-12-08"}}
	g = s.post(at+"/measured", form)
	for i := 0; i < 600 && !strings.Contains(g.body, "Measured less computed"); i++ {
		time.Sleep(20 * time.Millisecond)
		g = s.get(g.at)
	}
	for _, says := range []string{"oak top", "&#43;2", "warmer than computed", "measured.svg?"} {
		if !strings.Contains(g.body, says) {
			t.Errorf("the page does not say %q: %s", says, g.body)
		}
	}
	for _, no := range []string{"<script>", " style=", "onclick", "NaN", "Inf"} {
		if strings.Contains(g.body, no) {
			t.Errorf("the page holds %q", no)
		}
	}
	svg := s.get(at + "/measured.svg?" + form.Encode())
	if svg.status != 200 || !strings.Contains(svg.header.Get("Content-Type"), "svg") {
		t.Errorf("picture: %d", svg.status)
	}
	wellFormed(t, svg.body)
	var doc answer.MeasuredHive
	if err := json.Unmarshal([]byte(s.get(at+"/measured.json?"+form.Encode()).body), &doc); err != nil || len(doc.Sensors) != 1 {
		t.Errorf("JSON: %v", err)
	}
	if g := s.get(at + "/measured?from=yesterday&to=today"); g.status != 422 || !strings.Contains(g.body, "accepted: such as") {
		t.Errorf("days that are none: %d", g.status)
	}
	if g := s.get(at + "/measured.json?from=2025-12-02&to=2025-12-03"); g.status != 404 {
		t.Errorf("JSON of nothing: %d", g.status)
	}

	// A heater test.
	var test strings.Builder
	test.WriteString("time,heater [W],outside [°C],inside 50 mm [°C],inside 450 mm [°C]\n")
	for i := range 12 * 24 {
		fmt.Fprintf(&test, "%s,20,1,%.2f,%.2f\n", from.Add(time.Duration(i)*5*time.Minute).Format("2006-01-02 15:04"), 3+0.05*rng.NormFloat64(), 9+0.05*rng.NormFloat64())
	}
	if g := s.sendParts(at+"/measured/heater", [3]string{"log", "test.csv", test.String()}); g.status != 200 || !strings.Contains(g.body, "The topmost thermometer alone would have said") {
		t.Errorf("heater test: %d %s", g.status, g.body)
	}
	if g := s.sendParts(at+"/measured/heater", [3]string{"log", "test.csv", "a,b\n"}); g.status != 422 || !strings.Contains(g.body, "test.csv:1") {
		t.Errorf("a log that is none: %d", g.status)
	}
}

// TestEvidencePage asks the records of an invented yard.
func TestEvidencePage(t *testing.T) {
	s := open(t, nil)
	at := s.firstHive()
	id := yard.ID(strings.TrimPrefix(at, "/hive/"))
	if g := s.get("/evidence"); g.status != 200 || !strings.Contains(g.body, "hold no season") {
		t.Errorf("without records: %d", g.status)
	}
	record, err := yard.NewID()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.store.Records.Put(t.Context(), yard.Record{Meta: yard.Meta{ID: record}, Kind: yard.WinterOutcome, At: time.Date(2026, 4, 10, 12, 0, 0, 0, time.UTC), Hive: id,
		Values: map[string]any{"outcome": "strong", "winter_of": 2025.0}}); err != nil {
		t.Fatal(err)
	}
	builds, err := s.store.BuildsOf(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	old := yard.Build{Hive: id, From: "2025-04-01", File: builds[0].File}
	if old.ID, err = yard.NewID(); err != nil {
		t.Fatal(err)
	}
	if _, err := s.store.Builds.Put(t.Context(), old); err != nil {
		t.Fatal(err)
	}
	g := s.get("/evidence?outcome=survived&treatment=mesh+floor")
	if g.status != 200 || !strings.Contains(g.body, "Hive-seasons") || !strings.Contains(g.body, "Strength: cannot tell") {
		t.Errorf("%d %s", g.status, g.body)
	}
	if g := s.get("/evidence?outcome=honey"); g.status != 422 || !strings.Contains(g.body, "accepted") {
		t.Errorf("an unknown outcome: %d", g.status)
	}
	if g := s.get("/evidence?outcome=survived&treatment=magnets"); g.status != 422 || !strings.Contains(g.body, "no treatment") {
		t.Errorf("an unknown treatment: %d", g.status)
	}
}
