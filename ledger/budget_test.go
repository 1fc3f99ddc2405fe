package ledger

import (
	"bytes"
	"context"
	"encoding/xml"
	"io"
	"math"
	"strings"
	"testing"
	"time"

	"hackle/climate"
	"hackle/colony"
	"hackle/hive"
	"hackle/quantity"
	"hackle/season"
)

// TestWaterMonthsAddUp: in every month what came in went out or stayed, to half a
// per cent of a month's water.
func TestWaterMonthsAddUp(t *testing.T) {
	p, err := hive.DecodeFile("../examples/two-deep-low-entrance.yaml")
	if err != nil {
		t.Fatal(err)
	}
	w, err := climate.Builtin("burlington-vt")
	if err != nil {
		t.Fatal(err)
	}
	win, err := w.Window(time.Date(2026, 1, 1, 0, 0, 0, 0, w.Location()), time.Date(2026, 4, 1, 0, 0, 0, 0, w.Location()))
	if err != nil {
		t.Fatal(err)
	}
	tr, err := season.Run(context.Background(), season.Input{Plan: p, Weather: win, Biology: colony.DefaultBiology()}, nil)
	if err != nil {
		t.Fatal(err)
	}
	months := WaterMonths(tr)
	if len(months) != 3 {
		t.Fatalf("%d months", len(months))
	}
	var vented, through float64
	for i, m := range months {
		out := m.Vented + m.Through + m.Drained + m.Drunk + m.Faces + m.Shell + m.Stores
		if i > 0 && math.Abs(m.Produced+m.Rain-out) > 0.005*m.Produced {
			t.Errorf("%s: %.4f kg came in, %.4f kg accounted for", m.Month, m.Produced+m.Rain, out)
		}
		vented += m.Vented
		through += m.Through
	}
	if got := tr.Totals.VapourOut - tr.Totals.VapourIn; math.Abs(vented-got) > 1e-6 {
		t.Errorf("months vent %.6f kg, totals %.6f kg", vented, got)
	}
	if math.Abs(through-tr.Totals.Through) > 1e-6 {
		t.Errorf("through the shell %.6f and %.6f kg", through, tr.Totals.Through)
	}
	var table bytes.Buffer
	if err := WriteWaterTable(&table, months, quantity.US); err != nil {
		t.Fatal(err)
	}
	for _, line := range strings.Split(table.String(), "\n") {
		if len([]rune(line)) > 80 {
			t.Errorf("wider than 80: %q", line)
		}
	}
	var picture bytes.Buffer
	if err := WaterPicture(&picture, "Where the water went <&>", months, quantity.US); err != nil {
		t.Fatal(err)
	}
	d := xml.NewDecoder(&picture)
	for {
		if _, err := d.Token(); err == io.EOF {
			break
		} else if err != nil {
			t.Fatalf("the picture is not well formed: %v", err)
		}
	}
}

func TestWaterPictureOfNothing(t *testing.T) {
	if err := WaterPicture(io.Discard, "none", nil, quantity.Metric); err == nil {
		t.Error("a picture of no water was drawn")
	}
}
