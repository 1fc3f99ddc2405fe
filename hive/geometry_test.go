package hive

import (
	"math"
	"reflect"
	"strings"
	"testing"
	"time"
)

func mustNew(t testing.TB, typ string, boxes ...string) Hive {
	t.Helper()
	h, err := New(typ, boxes...)
	if err != nil {
		t.Fatal(err)
	}
	return h
}

// approx compares measures that are sums of a few rounded ones.
func approx(t *testing.T, what string, got, want float64) {
	t.Helper()
	if math.Abs(got-want) > 1e-12+1e-9*math.Abs(want) {
		t.Errorf("%s: got %g, want %g", what, got, want)
	}
}

// TestGeometry compares with figures worked out by hand from the sizes of the
// ten-frame deep: inside 467 x 375 x 244 mm, frames 448 x 232 mm at 35 mm.
func TestGeometry(t *testing.T) {
	h := mustNew(t, "stacked-10", "deep", "medium")
	deep := h.Bodies[0]
	approx(t, "end gap", deep.FrameEndGap(), 0.0095)
	approx(t, "side gap", deep.SideGap(), 0.0175)
	approx(t, "bottom space", deep.BottomSpace(), 0.004)
	approx(t, "seam gap", deep.Frames.SeamGap(), 0.010)
	if deep.Seams() != 9 {
		t.Errorf("seams: got %d, want 9", deep.Seams())
	}
	approx(t, "floor space", h.FloorSpace(), 0.014)
	approx(t, "height", h.Height(), 0.010+0.244+0.168)
	approx(t, "base 0", h.BodyBase(0), 0.010)
	approx(t, "base 1", h.BodyBase(1), 0.254)
	approx(t, "stack top", h.BodyBase(2), 0.422)
	approx(t, "floor area", deep.FloorArea(), 0.467*0.375)
	approx(t, "front area", deep.WallArea(Front), 0.375*0.244)
	approx(t, "left area", deep.WallArea(Left), 0.467*0.244)
	approx(t, "volume", h.Volume(), 0.467*0.375*0.422)
	approx(t, "joints", h.JointLength(), 3*2*(0.467+0.375))
	approx(t, "comb area", deep.Frames.CombArea(), 0.448*0.232)
	for _, at := range []struct {
		z    float64
		want int
	}{{0, 0}, {0.2, 0}, {0.254, 1}, {0.4, 1}, {9, 1}} {
		if got := h.BodyAt(at.z); got != at.want {
			t.Errorf("body at %g: got %d, want %d", at.z, got, at.want)
		}
	}

	turned := deep
	turned.Turned = true
	approx(t, "turned front to back", turned.FrontToBack(), 0.375)
	approx(t, "turned front area", turned.WallArea(Front), 0.467*0.244)

	empty := deep
	empty.Frames = Frames{}
	approx(t, "bottom space without frames", empty.BottomSpace(), 0)
	approx(t, "side gap without frames", empty.SideGap(), 0.375/2)
	if empty.Seams() != 0 {
		t.Errorf("seams without frames: %d", empty.Seams())
	}

	national := mustNew(t, "national", "brood")
	approx(t, "national height with the board's rim", national.Height(), 0.022+0.225+0.008)
	approx(t, "national stack top", national.StackTop(), 0.022+0.225)
}

func TestOutside(t *testing.T) {
	h := mustNew(t, "stacked-10", "deep")
	h.Lid.Rim = 0
	s := h.Outside()
	approx(t, "front to back", s.FrontToBack, 0.505) // trade tables: 505 x 413 mm
	approx(t, "side to side", s.SideToSide, 0.413)
	approx(t, "height", s.Height, 0.019+0.010+0.244+0.008+0.010+0.0104)
	h.Lid.Rim = 0.05
	approx(t, "with the lid's rim", h.Outside().SideToSide, 0.413+2*0.0104)
}

// TestEmptyMass compares the sum of parts with weighed hives: a pine box 2.4 to
// 7 kg, a drawn frame 0.30 to 0.35 kg (trade weights of three countries).
func TestEmptyMass(t *testing.T) {
	h := mustNew(t, "dadant-10", "brood")
	parts := make(map[string]float64)
	total := 0.0
	for _, p := range h.EmptyMass() {
		parts[p.Part] = p.Mass
		total += p.Mass
	}
	if box := parts["body 1 brood"]; box < 2.4 || box > 7.5 {
		t.Errorf("box: got %.2f kg, want 2.4 to 7.5", box)
	}
	if frame := parts["frames of body 1 brood"] / 10; frame < 0.28 || frame > 0.40 {
		t.Errorf("frame: got %.3f kg, want 0.28 to 0.40", frame)
	}
	// A weighed ten-frame Dadant with roof, cover, body, floor and drawn frames
	// came to 18.5 kg; wood and thickness vary by a quarter.
	if total < 14 || total > 23 {
		t.Errorf("hive: got %.1f kg, want 18.5 within a quarter", total)
	}
	bare := h.Clone()
	bare.Bodies[0].Frames.DrawnShare = 0
	var sum float64
	for _, p := range bare.EmptyMass() {
		sum += p.Mass
	}
	approx(t, "wax", total-sum, 10*2*0.435*0.300*0.5)
	wall := 0.320 * 0.025 * 500 * (2*(0.380+0.050) + 2*0.450)
	approx(t, "box by hand", parts["body 1 brood"], wall)
}

func TestOpeningArea(t *testing.T) {
	slot := Opening{Shape: Slot, Width: 0.375, Height: 0.010, Count: 1}
	approx(t, "slot", slot.Area(), 37.5e-4)
	approx(t, "reduced", slot.AreaAt(0.025), 2.5e-4)
	hole := Opening{Shape: Round, Width: 0.019, Height: 0.019, Count: 2, MeshShare: 0.5}
	approx(t, "two holes half meshed", hole.Area(), math.Pi/4*0.019*0.019)
	approx(t, "group", hole.GroupWidth(), 2.5*0.019)
	approx(t, "nothing", Opening{Count: 1}.Area(), 0)
}

func TestMirrored(t *testing.T) {
	for name, p := range somePlans(t) {
		h := p.Hive
		before := h.Clone()
		m := h.Mirrored()
		if !reflect.DeepEqual(h, before) {
			t.Errorf("%s: mirroring changed the original", name)
		}
		if back := m.Mirrored(); !reflect.DeepEqual(back, h) {
			t.Errorf("%s: mirrored twice is another hive", name)
		}
		if len(only((Plan{Hive: m}).Check(), Wrong)) > 0 && len(only((Plan{Hive: h}).Check(), Wrong)) == 0 {
			t.Errorf("%s: the mirror image has faults", name)
		}
	}
	h := mustNew(t, "long-deep", "20 frames")
	h.Bodies[0].Walls[Left] = nil
	h.Openings[0].Face, h.Openings[0].Offset = Left, 0.1
	h.Followers = []Follower{{Side: Right}}
	h.Wraps = []Wrap{{Faces: []Face{Left, Top}}}
	m := h.Mirrored()
	if m.Bodies[0].Walls[Right] != nil || m.Bodies[0].Walls[Left] == nil || m.Openings[0].Face != Right || m.Openings[0].Offset != -0.1 ||
		m.Followers[0].Side != Left || m.Wraps[0].Faces[0] != Right || m.Wraps[0].Faces[1] != Top {
		t.Errorf("got %+v", m)
	}
}

// TestCloneSharesNothing walks plan and clone and looks for common memory.
func TestCloneSharesNothing(t *testing.T) {
	var walk func(path string, a, b reflect.Value)
	walk = func(path string, a, b reflect.Value) {
		switch a.Kind() {
		case reflect.Struct:
			for i := range a.NumField() {
				walk(path+"."+a.Type().Field(i).Name, a.Field(i), b.Field(i))
			}
		case reflect.Array:
			for i := range a.Len() {
				walk(path, a.Index(i), b.Index(i))
			}
		case reflect.Slice:
			if a.Len() > 0 && a.Pointer() == b.Pointer() {
				t.Errorf("%s is shared", path)
			}
			for i := range a.Len() {
				walk(path, a.Index(i), b.Index(i))
			}
		case reflect.Pointer:
			if !a.IsNil() {
				if a.Pointer() == b.Pointer() {
					t.Errorf("%s is shared", path)
				}
				walk(path, a.Elem(), b.Elem())
			}
		}
	}
	for _, p := range somePlans(t) {
		c := p.Clone()
		if !reflect.DeepEqual(c, p) {
			t.Fatalf("the clone differs: %+v", p)
		}
		walk("Plan", reflect.ValueOf(p), reflect.ValueOf(c))
	}
}

func TestPresets(t *testing.T) {
	infos, err := Types()
	if err != nil {
		t.Fatal(err)
	}
	if len(infos) < 12 || infos[len(infos)-1].Name != Custom {
		t.Fatalf("got %d types", len(infos))
	}
	for _, info := range infos {
		if info.Title == "" {
			t.Errorf("%s has no title", info.Name)
		}
		if info.Name == Custom {
			if _, err := New(Custom); err == nil {
				t.Error("a custom hive cannot be made without bodies")
			}
			continue
		}
		h := mustNew(t, info.Name)
		if len(h.Bodies) != len(info.Default) {
			t.Errorf("%s: %d bodies", info.Name, len(h.Bodies))
		}
		sets := [][]string{info.Default}
		for _, box := range info.Boxes {
			if box.Source == "" {
				t.Errorf("%s %s has no source", info.Name, box.Name)
			}
			sets = append(sets, []string{box.Name}, []string{box.Name, box.Name})
		}
		for _, set := range sets {
			h := mustNew(t, info.Name, set...)
			for _, f := range (Plan{Hive: h}).Check() {
				t.Errorf("%s %q: %v", info.Name, set, f)
			}
			if h.Openings[0].Depth != h.Bodies[0].WallThickness(Front) {
				t.Errorf("%s: passage %g", info.Name, h.Openings[0].Depth)
			}
		}
		for _, r := range info.Reducers {
			if r.Width <= 0 || r.Width >= h.Openings[0].Width {
				t.Errorf("%s: reducer %s of %g m does not reduce %g m", info.Name, r.Name, r.Width, h.Openings[0].Width)
			}
		}
	}
	long := mustNew(t, "long-layens", "14 frames")
	approx(t, "14 Layens frames", long.Bodies[0].Width, 0.800-6*0.0397)
	if long.Bodies[0].Frames.Count != 14 {
		t.Errorf("count %d", long.Bodies[0].Frames.Count)
	}
	for _, bad := range [][]string{{"skep"}, {"stacked10"}, {"warre", "deep"}, {"long-deep", "13 frames"}, {"long-deep", "31 frames"}, {"long-deep", "020 frames"}, {"long-deep", "20 bars"}} {
		if _, err := New(bad[0], bad[1:]...); err == nil {
			t.Errorf("New(%q) made a hive", bad)
		} else if !strings.Contains(err.Error(), "may be") {
			t.Errorf("New(%q): %v does not list what is known", bad, err)
		}
	}
}

func TestParseDay(t *testing.T) {
	for text, want := range map[string]Day{
		"15 Oct": {0, 10, 15}, "Oct 15": {0, 10, 15}, "15 october": {0, 10, 15}, "15. Oct.": {0, 10, 15}, "Oct 15, 2026": {2026, 10, 15},
		"15 Oct 2026": {2026, 10, 15}, "2026-10-15": {2026, 10, 15}, "29 Feb 2024": {2024, 2, 29}, "3 Sept": {0, 9, 3},
	} {
		if got, err := ParseDay(text); err != nil || got != want {
			t.Errorf("%q: got %v, %v", text, got, err)
		}
		if again, err := ParseDay(want.String()); err != nil || again != want {
			t.Errorf("%q does not read back: %v, %v", want.String(), again, err)
		}
	}
	for _, text := range []string{"", "10-15", "5/6/2026", "15", "Oct", "15 Oc", "32 Oct", "0 Oct", "29 Feb", "29 Feb 2026", "2026-13-01", "26-10-15", "15 Oct 26", "15 Oct 2026 noon", "0000-10-15", "-3 Oct"} {
		if got, err := ParseDay(text); err == nil {
			t.Errorf("%q was read as %v", text, got)
		}
	}
}

func at(year int, month time.Month, day int) time.Time {
	return time.Date(year, month, day, 0, 0, 0, 0, time.FixedZone("", 3600))
}

func TestSchedules(t *testing.T) {
	o := Opening{Width: 0.3, Schedule: []OpeningState{{Day{0, 5, 1}, 0.3}, {Day{0, 10, 15}, 0.05}}}
	for _, test := range []struct {
		date time.Time
		want float64
	}{
		{at(2025, 1, 1), 0.05}, {at(2025, 4, 30), 0.05}, {at(2025, 5, 1), 0.3}, {at(2025, 10, 14), 0.3}, {at(2025, 10, 15), 0.05}, {at(2025, 12, 31), 0.05},
	} {
		approx(t, test.date.Format(time.DateOnly), o.WidthOn(test.date), test.want)
	}
	approx(t, "no schedule", Opening{Width: 0.2}.WidthOn(at(2025, 1, 1)), 0.2)

	dated := []Switch{{Day{2026, 3, 1}, true}, {Day{2027, 3, 1}, false}}
	for _, test := range []struct {
		date      time.Time
		initially bool
		want      bool
	}{
		{at(2026, 2, 28), false, false}, {at(2026, 2, 28), true, true}, {at(2026, 3, 1), false, true}, {at(2027, 2, 28), false, true}, {at(2027, 3, 1), true, false}, {at(2030, 1, 1), true, false},
	} {
		if got := SwitchOn(dated, test.date, test.initially); got != test.want {
			t.Errorf("%v from %v: got %v", test.date, test.initially, got)
		}
	}
	// An event of every year outranks an older dated one.
	mixed := []Switch{{Day{2026, 3, 1}, true}, {Day{0, 6, 1}, false}}
	if !SwitchOn(mixed, at(2026, 5, 1), false) || SwitchOn(mixed, at(2026, 6, 1), true) || SwitchOn(mixed, at(2026, 2, 1), true) {
		t.Error("mixed events")
	}

	w := Wrap{On: Day{0, 11, 1}, Off: Day{0, 4, 1}}
	for _, test := range []struct {
		date time.Time
		want bool
	}{{at(2025, 10, 31), false}, {at(2025, 11, 1), true}, {at(2026, 1, 1), true}, {at(2026, 3, 31), true}, {at(2026, 4, 1), false}} {
		if got := w.OnAt(test.date); got != test.want {
			t.Errorf("wrap at %v: got %v", test.date, got)
		}
	}
	if !(Wrap{}).OnAt(at(2025, 7, 1)) {
		t.Error("a wrap without days is always on")
	}

	f := Floor{Mesh: true, TrayEvents: []Switch{{Day{0, 11, 1}, true}, {Day{0, 4, 1}, false}}}
	if !f.TrayOn(at(2025, 12, 1)) || f.TrayOn(at(2025, 6, 1)) || !(Floor{}).TrayOn(at(2025, 6, 1)) {
		t.Error("tray")
	}
	b := TopBoard{Hole: 0.002, HoleEvents: []Switch{{Day{0, 11, 1}, false}, {Day{0, 4, 1}, true}}}
	approx(t, "hole in winter", b.HoleOn(at(2025, 12, 1)), 0)
	approx(t, "hole in summer", b.HoleOn(at(2025, 6, 1)), 0.002)
	if n := testing.AllocsPerRun(100, func() { o.WidthOn(at(2025, 1, 1)); w.OnAt(at(2025, 1, 1)) }); n > 2 { // the two time zones of at
		t.Errorf("%g allocations per look at a schedule", n)
	}
}

func BenchmarkWidthOn(b *testing.B) {
	o := Opening{Width: 0.3, Schedule: []OpeningState{{Day{0, 5, 1}, 0.3}, {Day{0, 10, 15}, 0.05}}}
	date := at(2025, 7, 1)
	for b.Loop() {
		o.WidthOn(date)
	}
}

func BenchmarkDecode(b *testing.B) {
	p := Plan{Hive: mustNew(b, "stacked-10")}
	text := encoded(b, p)
	for b.Loop() {
		if _, err := Decode("", strings.NewReader(text)); err != nil {
			b.Fatal(err)
		}
	}
}
