package fit

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"math"
	"strings"
	"testing"
	"time"

	"hackle/logger"
	"hackle/quantity"
)

func wellFormed(t *testing.T, text string) {
	t.Helper()
	d := xml.NewDecoder(strings.NewReader(text))
	for {
		if _, err := d.Token(); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
	}
	for _, no := range []string{"NaN", "Inf", "<script"} {
		if strings.Contains(text, no) {
			t.Errorf("the picture holds %s", no)
		}
	}
}

// TestReadingsPicture: a day without readings stays empty, names are escaped, and a
// year is drawn by the day.
func TestReadingsPicture(t *testing.T) {
	from := time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC)
	var hours []logger.Hour
	for i := range 365 * 24 {
		if i/24 == 100 {
			continue
		}
		v := 10 * math.Sin(float64(i)/400)
		hours = append(hours, logger.Hour{At: from.Unix() + int64(i)*3600, Count: 12, Mean: v, Least: v - 1, Most: v + 1})
	}
	var b bytes.Buffer
	list := []Sensed{{"top <1>", logger.Temperature, hours}, {"empty", logger.Weight, nil}, {"still", logger.Humidity, hours[:0:0]}}
	if err := ReadingsPicture(&b, "A & B", from, from.AddDate(1, 0, 0), list, quantity.US, ""); err != nil {
		t.Fatal(err)
	}
	wellFormed(t, b.String())
	for _, says := range []string{"A &amp; B", "top &lt;1&gt;", "no readings in these days", "°F", ">Jul<"} {
		if !strings.Contains(b.String(), says) {
			t.Errorf("the picture does not say %q", says)
		}
	}
	if n := strings.Count(b.String(), "z"); n < 364 || n > 364+40 {
		t.Errorf("%d days drawn", n)
	}
	var again bytes.Buffer
	if err := ReadingsPicture(&again, "A & B", from, from.AddDate(1, 0, 0), list, quantity.US, ""); err != nil || !bytes.Equal(b.Bytes(), again.Bytes()) {
		t.Error("the same input gives another picture", err)
	}
	if err := ReadingsPicture(&b, "x", from, from, list, quantity.Metric, ""); !errors.Is(err, ErrData) {
		t.Errorf("no days: %v", err)
	}
}

func TestComparisonPicture(t *testing.T) {
	start := time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC)
	for _, days := range []int{3, 60} {
		n := days * 24
		measured, computed := make([]float64, n), make([]float64, n)
		for i := range n {
			measured[i], computed[i] = math.Sin(float64(i)/4), math.Sin(float64(i)/4)+0.2
			if i%50 == 0 {
				measured[i] = math.NaN()
			}
		}
		s := &Series{Name: "side & top", Quantity: logger.Temperature, Place: Inside, Height: 0.3, Column: "flank", Values: measured}
		m := matchOf(s, computed, nil)
		var b bytes.Buffer
		if err := Picture(&b, "Oak", &Comparison{Start: start, Matches: []Match{m}}, quantity.Metric, ""); err != nil {
			t.Fatal(err)
		}
		wellFormed(t, b.String())
		if !strings.Contains(b.String(), "side &amp; top") || !strings.Contains(b.String(), "300 mm above the floor") {
			t.Error("the sensor is not named")
		}
	}
}
