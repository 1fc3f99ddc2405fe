package cutaway

import (
	"bytes"
	"context"
	"encoding/base64"
	"encoding/json"
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"hackle/climate"
	"hackle/hive"
	"hackle/internal/answer"
	"hackle/internal/raster"
	"hackle/quantity"
	"hackle/season"
)

// Runs of a few days of every example, made once: the cold of January and the heat
// of July.
var spells = sync.OnceValues(func() ([]*season.Trace, error) {
	files, err := filepath.Glob("../../examples/*.yaml")
	if err != nil || len(files) == 0 {
		return nil, fmt.Errorf("no examples: %v", err)
	}
	weather, err := climate.Builtin("burlington-vt")
	if err != nil {
		return nil, err
	}
	var out []*season.Trace
	for i, f := range files {
		plan, err := hive.DecodeFile(f)
		if err != nil {
			return nil, err
		}
		days := answer.Days{From: hive.Day{Month: time.January, Day: 24}, To: hive.Day{Month: time.January, Day: 27}}
		if i%2 == 1 {
			days = answer.Days{From: hive.Day{Month: time.July, Day: 1}, To: hive.Day{Month: time.July, Day: 3}}
		}
		set, err := answer.Place([]hive.Plan{plan}, weather, days, quantity.Metric)
		if err != nil {
			return nil, err
		}
		traces, err := set.Run(context.Background(), nil)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", f, err)
		}
		out = append(out, traces[0])
	}
	return out, nil
})

func years(t *testing.T) []*Year {
	t.Helper()
	traces, err := spells()
	if err != nil {
		t.Fatal(err)
	}
	var out []*Year
	for _, tr := range traces {
		y, err := Compact(tr)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, y)
	}
	return out
}

// examine reads a picture as XML: well formed, every identifier once, every
// reference to one that is there. It returns the text of title and description.
func examine(t *testing.T, svg []byte) (title, desc string) {
	t.Helper()
	d := xml.NewDecoder(bytes.NewReader(svg))
	d.Strict = true
	ids := map[string]bool{}
	var refs []string
	in := ""
	for {
		token, err := d.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatalf("not well formed: %v", err)
		}
		switch e := token.(type) {
		case xml.StartElement:
			in = e.Name.Local
			for _, a := range e.Attr {
				switch {
				case a.Name.Local == "id":
					if ids[a.Value] {
						t.Errorf("identifier %s twice", a.Value)
					}
					ids[a.Value] = true
				case strings.HasPrefix(a.Value, "url(#"):
					refs = append(refs, strings.TrimSuffix(strings.TrimPrefix(a.Value, "url(#"), ")"))
				case a.Name.Local == "style" || strings.HasPrefix(a.Name.Local, "on") || a.Name.Local == "href":
					t.Errorf("%s has the attribute %s", in, a.Name.Local)
				}
				if strings.Contains(a.Value, "NaN") || strings.Contains(a.Value, "Inf") {
					t.Errorf("%s %s=%q", in, a.Name.Local, a.Value)
				}
			}
			if in == "script" || in == "foreignObject" || in == "image" {
				t.Errorf("there is a %s", in)
			}
		case xml.CharData:
			switch in {
			case "title":
				title += string(e)
			case "desc":
				desc += string(e)
			}
		case xml.EndElement:
			in = ""
		}
	}
	for _, r := range refs {
		if !ids[r] {
			t.Errorf("no element %s", r)
		}
	}
	return title, desc
}

func TestEveryExample(t *testing.T) {
	for _, y := range years(t) {
		for _, section := range Sections() {
			for _, hour := range []int{0, y.Hours() / 3, y.Hours() - 1} {
				svg, err := y.Draw(hour, Options{Section: section, Alone: hour == 0, Dimensions: hour > 0, Names: hour > 0})
				if err != nil {
					t.Fatal(err)
				}
				title, desc := examine(t, svg)
				if !strings.HasPrefix(title, y.hive.Name) || desc != y.Describe(hour, quantity.Metric) {
					t.Errorf("%s: title %q, description %q", y.hive.Name, title, desc)
				}
				again, err := y.Draw(hour, Options{Section: section, Alone: hour == 0, Dimensions: hour > 0, Names: hour > 0})
				if err != nil || !bytes.Equal(svg, again) {
					t.Errorf("%s: a second picture differs", y.hive.Name)
				}
			}
		}
	}
}

// The project's own renderer draws a picture that stands alone.
func TestRaster(t *testing.T) {
	for _, y := range years(t)[:2] {
		svg, err := y.Draw(5, Options{Section: Along, Alone: true, Dimensions: true, Names: true})
		if err != nil {
			t.Fatal(err)
		}
		picture, err := raster.Draw(svg, 400)
		if err != nil {
			t.Fatal(err)
		}
		colours := map[string]bool{}
		for x := 0; x < 400; x += 3 {
			for v := 0; v < picture.Bounds().Dy(); v += 3 {
				colours[fmt.Sprint(picture.At(x, v))] = true
			}
		}
		if len(colours) < 200 {
			t.Errorf("%s: only %d colours in the picture", y.hive.Name, len(colours))
		}
	}
}

// Every type of hive, in both sections: its outer measures are those that package
// hive finds by itself, the room has the area of the bodies' inside, walls have
// their thickness, and combs and sticks lie inside the shell.
func TestScale(t *testing.T) {
	types, err := hive.Types()
	if err != nil {
		t.Fatal(err)
	}
	var all []hive.Hive
	for _, typ := range types {
		if typ.Name == hive.Custom {
			continue
		}
		h, err := hive.New(typ.Name)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, h)
		if h.Bodies[0].Frames.Count > 0 && !strings.HasPrefix(typ.Name, "long") {
			turned := h.Clone()
			for i := range turned.Bodies {
				turned.Bodies[i].Turned = true
			}
			turned.Name = typ.Name + ", turned"
			all = append(all, turned)
		}
	}
	close := func(a, b float64) bool { return math.Abs(a-b) < 0.01 }
	for _, h := range all {
		for _, section := range Sections() {
			s := newScene(&h, nil, section)
			size := h.Outside()
			wide := size.SideToSide
			if section == Along {
				wide = size.FrontToBack
			}
			high := size.Height * mm
			if h.Floor.Mesh {
				high += meshFrame
			}
			if !close(s.outer.w(), wide*mm) || !close(s.outer.h(), high) {
				t.Errorf("%s %s, %s: drawn %.2f by %.2f mm, outside %.2f by %.2f", h.Type, h.Name, section, s.outer.w(), s.outer.h(), wide*mm, high)
			}
			area, want := 0.0, 0.0
			for _, r := range s.inside {
				area += r.w() * r.h()
			}
			for i := range h.Bodies {
				height := h.Bodies[i].Height
				if i == 0 {
					height += h.Floor.Depth
				}
				if i == len(h.Bodies)-1 && h.TopBoard != nil {
					height += h.TopBoard.Space
				}
				want += s.across(&h.Bodies[i]) * height * mm
			}
			if !close(area, want) {
				t.Errorf("%s, %s: room of %.0f mm², should be %.0f", h.Type, section, area, want)
			}
			low, _ := section.faces()
			walls := 0.0
			for _, p := range s.shell {
				if p.upright && p.x1 <= s.inside[0].x0+1e-9 && p.y0 >= -h.StackTop()*mm-1e-9 && p.y1 <= 1e-9 && p.x0 >= -s.across(&h.Bodies[0])/2-h.Bodies[0].WallThickness(low)*mm-1e-9 {
					walls += p.w() * p.h()
				}
			}
			want = h.Bodies[0].WallThickness(low) * mm * h.StackTop() * mm
			for _, o := range s.cutBy(low, 0, h.StackTop()*mm) {
				want -= (o.z1 - o.z0) * h.Bodies[0].WallThickness(low) * mm
			}
			if math.Abs(walls-want) > 1 {
				t.Errorf("%s, %s: cut wall of %.1f mm², should be %.1f", h.Type, section, walls, want)
			}
			for _, c := range s.combs {
				if c.x0 < s.inside[0].x0 || c.x1 > s.inside[0].x1 || c.y0 < -h.Height()*mm || c.y1 > 0 {
					t.Errorf("%s, %s: a comb at %v lies outside the room", h.Type, section, c.rect)
				}
			}
			for _, c := range s.sticks {
				if c.x0 < s.outer.x0 || c.x1 > s.outer.x1 {
					t.Errorf("%s, %s: wood of a frame at %v lies outside the hive", h.Type, section, c.rect)
				}
			}
			svg, err := Draw(h, Options{Section: section, Dimensions: true, Names: true})
			if err != nil {
				t.Fatal(err)
			}
			examine(t, svg)
		}
	}
}

// Combs that the section cuts are as many as the frames, at their spacing.
func TestCombs(t *testing.T) {
	h, err := hive.New("stacked-10", "deep")
	if err != nil {
		t.Fatal(err)
	}
	s := newScene(&h, nil, Across)
	if len(s.combs) != 10 {
		t.Fatalf("%d combs, want 10", len(s.combs))
	}
	for i := 1; i < len(s.combs); i++ {
		if d := s.combs[i].x0 - s.combs[i-1].x0; math.Abs(d-h.Bodies[0].Frames.Pitch*mm) > 1e-9 {
			t.Errorf("spacing %g mm", d)
		}
	}
	if a, b := s.combs[0].x0+s.combs[9].x1, 0.0; math.Abs(a-b) > 1e-9 {
		t.Errorf("combs are off the middle by %g mm", a)
	}
	if side := newScene(&h, nil, Along); len(side.combs) != 1 || side.combs[0].edge {
		t.Errorf("the side section shows %d combs, want one, face on", len(side.combs))
	}
}

func TestHostileNames(t *testing.T) {
	const nasty = `"><script>alert('x')</script>&amp; ]]> ` + "\x00\x1b\u202e"
	plan, err := hive.DecodeFile("../../examples/insulated-walls.yaml")
	if err != nil {
		t.Fatal(err)
	}
	h := plan.Hive
	h.Name = nasty
	h.Wraps[0].Name = nasty
	for i := range h.Openings {
		h.Openings[i].Name = nasty
	}
	h.Lid.Layers[0].Material.Name = nasty
	svg, err := Draw(h, Options{Section: Along, Names: true, Alone: true, ID: nasty})
	if err != nil {
		t.Fatal(err)
	}
	examine(t, svg)
	if bytes.Contains(svg, []byte("<script")) {
		t.Error("a name got through as markup")
	}
}

func TestDescription(t *testing.T) {
	traces, err := spells()
	if err != nil {
		t.Fatal(err)
	}
	for i, y := range years(t) {
		tr := traces[i]
		for _, hour := range []int{5, 30, 60} {
			text := y.Describe(hour, quantity.Metric)
			for _, c := range []string{"outdoor.temp", "air.at_floor", "air.under_lid", "bees.core"} {
				v := math.Floor(tr.Get(c)[hour]*10+0.5) / 10
				if want := quantity.Format(v, quantity.Temperature, quantity.Metric); !strings.Contains(text, want) {
					t.Errorf("%s, hour %d: %s is %s, the description says %q", y.hive.Name, hour, c, want, text)
				}
			}
			if frost := strings.Contains(text, "frost on the floor"); frost && tr.Get("air.at_floor")[hour] > 0.05 {
				t.Errorf("%s, hour %d: frost on a floor of %g °C", y.hive.Name, hour, tr.Get("air.at_floor")[hour])
			}
			if dry := strings.Contains(text, "No face inside is wet"); dry != (tr.Get("water.lid")[hour]+tr.Get("water.walls")[hour]+tr.Get("water.combs")[hour]+tr.Get("water.floor")[hour] < 0.00045) && dry {
				t.Errorf("%s, hour %d: said to be dry", y.hive.Name, hour)
			}
			if (tr.Get("bees.isolated")[hour] > 0.5) != strings.Contains(text, "cut off from it") {
				t.Errorf("%s, hour %d: isolated is %g, the description says %q", y.hive.Name, hour, tr.Get("bees.isolated")[hour], text)
			}
			if us := y.Describe(hour, quantity.US); !strings.Contains(us, "°F") || strings.Contains(us, "°C") {
				t.Errorf("%s: US units give %q", y.hive.Name, us)
			}
		}
	}
}

// The compact form holds every value to half a step.
func TestCompact(t *testing.T) {
	traces, err := spells()
	if err != nil {
		t.Fatal(err)
	}
	for i, y := range years(t) {
		text, err := json.Marshal(y)
		if err != nil {
			t.Fatal(err)
		}
		var c compact
		if err := json.Unmarshal(text, &c); err != nil {
			t.Fatal(err)
		}
		if c.Hours != traces[i].Hours || len(c.Slabs) != len(traces[i].Slabs) || !c.Start.Equal(traces[i].Start) {
			t.Fatalf("%s: %d hours, %d slabs from %v", c.Hive, c.Hours, len(c.Slabs), c.Start)
		}
		read := 0
		for _, s := range c.Channels {
			b, err := base64.StdEncoding.DecodeString(s.Values)
			if err != nil || len(b) != s.Bytes*c.Hours {
				t.Fatalf("%s: %d bytes for %d hours of %d: %v", s.Name, len(b), c.Hours, s.Bytes, err)
			}
			want := traces[i].Get(s.Name)
			for h := range c.Hours {
				q := 0
				for k := range s.Bytes {
					q |= int(b[h*s.Bytes+k]) << (8 * k)
				}
				got := float64(s.First+q) / float64(s.Per)
				if v, ok := y.Value(s.Name, h); !ok || v != got {
					t.Fatalf("%s hour %d: %g in the file, %g in memory", s.Name, h, got, v)
				}
				if want != nil {
					if math.Abs(got-want[h]) > 0.5/float64(s.Per)+1e-9 {
						t.Fatalf("%s hour %d: %g, the trace has %g", s.Name, h, got, want[h])
					}
					read++
				}
			}
		}
		if read < 30*c.Hours {
			t.Errorf("%s: only %d values of the trace are kept", c.Hive, read)
		}
	}
}

// The air between the middles of two slabs goes straight from one to the other,
// and the middle of the cluster has the cluster's temperature.
func TestAt(t *testing.T) {
	for _, y := range years(t) {
		hour := 20
		for _, section := range Sections() {
			s := newScene(&y.hive, y, section)
			x := (s.span[0] + 2) / mm
			for k := 1; k < len(y.slabs); k++ {
				a, b := y.slabs[k-1], y.slabs[k]
				z := ((a.Bottom+a.Top)/2 + (b.Bottom+b.Top)/2) / 2
				p := y.At(section, x, z, hour)
				column := "flank"
				if len(y.columns) < 2 {
					column = "core"
				}
				want := (y.value(fmt.Sprintf("air.%s.%d", column, k), hour) + y.value(fmt.Sprintf("air.%s.%d", column, k+1), hour)) / 2
				if p.Where != "outer air" || p.Temp == nil || math.Abs(*p.Temp-want) > 1e-9 {
					t.Fatalf("%s, %s at %g m: %+v, want %g °C of the outer air", y.hive.Name, section, z, p, want)
				}
			}
			p := y.At(section, s.moves.Ball.X/mm, y.value("bees.height", hour), hour)
			if p.Where != "cluster" || p.Temp == nil || *p.Temp != y.value("bees.core", hour) {
				t.Errorf("%s, %s: in the middle of the cluster %+v", y.hive.Name, section, p)
			}
			if p := y.At(section, 3, 0.1, hour); p.Where != "outdoors" || *p.Temp != y.value("outdoor.temp", hour) {
				t.Errorf("%s: 3 m away %+v", y.hive.Name, p)
			}
			if p := y.At(section, (s.outer.x0+3)/mm, y.hive.StackTop()/2, hour); p.Where == "outdoors" && len(y.hive.Wraps) == 0 && y.hive.Lid.Rim == 0 {
				t.Errorf("%s: in the wall %+v", y.hive.Name, p)
			}
			if say := p.Say(quantity.US); !strings.Contains(say, "°F") {
				t.Errorf("a place in US units is %q", say)
			}
		}
	}
}

// Honey that is drawn is the honey that the trace weighs in the combs.
func TestStores(t *testing.T) {
	traces, err := spells()
	if err != nil {
		t.Fatal(err)
	}
	for _, tr := range traces {
		s := newStores(&tr.Hive, tr.Slabs, len(tr.Columns), coreBreadth(tr))
		room := 0.0
		for c := range s.capacity {
			for _, x := range s.capacity[c] {
				room += x
			}
		}
		want := 0.0
		for _, b := range tr.Hive.Bodies {
			want += float64(b.Frames.Count) * b.Frames.DrawnShare * b.Frames.HoneyPerFrame
		}
		if math.Abs(room-want) > 0.02*want {
			t.Errorf("%s: combs hold %.2f kg, the frames say %.2f", tr.Hive.Name, room, want)
		}
		fills := s.follow(tr)
		drawn := 0.0
		for h := range tr.Hours {
			for c, column := range tr.Columns {
				for body := range tr.Hive.Bodies {
					fill, has := 0.0, 0.0
					for k := range s.slabs {
						if s.bodies[k] == body {
							fill += fills[c][h][k] * s.capacity[c][k]
							has += s.capacity[c][k]
						}
					}
					share := tr.Get(fmt.Sprintf("comb.fill.%d.%s", body+1, column))
					if share == nil || has == 0 {
						continue
					}
					drawn += fill
					if math.Abs(fill/has-min(1, share[h])) > 1e-9 {
						t.Fatalf("%s, hour %d, body %d, %s: drawn %.3f full, the trace says %.3f", tr.Hive.Name, h, body+1, column, fill/has, share[h])
					}
				}
			}
			// Where the trace has none in contact, what is drawn there found no other
			// room in its body.
			if tr.Get("honey.reach")[h] > 0 {
				continue
			}
			for k := range s.slabs {
				if s.touched(k, tr.Get("bees.height")[h], tr.Get("bees.radius")[h]) < 0.9 || fills[core][h][k] < 0.1 {
					continue
				}
				for j := range s.slabs {
					if s.bodies[j] == s.bodies[k] && s.capacity[core][j] > 0 && s.touched(j, tr.Get("bees.height")[h], tr.Get("bees.radius")[h]) == 0 && fills[core][h][j] < 0.99 {
						t.Errorf("%s, hour %d: out of reach, yet slab %d is %.2f full and slab %d is not", tr.Hive.Name, h, k, fills[core][h][k], j)
					}
				}
			}
		}
		if drawn == 0 {
			t.Errorf("%s: no honey is drawn", tr.Hive.Name)
		}
	}
}

// Marks, arrows and bees grow with what they stand for.
func TestMoves(t *testing.T) {
	y := years(t)[0]
	s := newScene(&y.hive, y, Along)
	marks := regexp.MustCompile(`M`)
	count := func(hour int, id string) int {
		for _, c := range s.moves.at(y, hour) {
			if c.id == id && c.name == "d" {
				return len(marks.FindAllString(c.value, -1))
			}
		}
		t.Fatalf("nothing moves %s", id)
		return 0
	}
	for _, m := range s.moves.Marks {
		if !slices.IsSorted(m.Steps) || m.Steps[0] != 0.0005 || m.Steps[len(m.Steps)-1] != 0.2 {
			t.Errorf("%s: steps %v", m.ID, m.Steps)
		}
		for hour := range y.Hours() {
			amount := y.value(m.Plus, hour) - y.value(m.Minus, hour)
			want := 0
			for _, x := range m.Steps {
				if amount+1e-9 >= x {
					want++
				}
			}
			if got := count(hour, m.ID); got != want {
				t.Fatalf("%s hour %d: %d marks for %g kg, want %d", m.ID, hour, got, amount, want)
			}
		}
	}
	if got, want := count(0, "bees"), int(math.Round(y.value("bees.mass", 0)/perBee)); got != min(want, mostBees) {
		t.Errorf("%d bees drawn for %g kg, want %d", got, y.value("bees.mass", 0), want)
	}
	if a, b := arrowScale(1e-5), arrowScale(4e-5); math.Abs(b*b/(a*a)-2) > 1e-12 {
		t.Errorf("four times the flow makes %g times the area", b*b/(a*a))
	}
}

func TestErrors(t *testing.T) {
	if _, err := Compact(&season.Trace{}); err == nil {
		t.Error("a trace without hours is accepted")
	}
	if _, err := Draw(hive.Hive{Name: "x"}, Options{}); err == nil {
		t.Error("a hive without bodies is drawn")
	}
	y := years(t)[0]
	for _, hour := range []int{-1, y.Hours()} {
		if _, err := y.Draw(hour, Options{}); err == nil {
			t.Errorf("hour %d is drawn", hour)
		}
	}
	if _, err := ParseSection("top"); err == nil || !strings.Contains(err.Error(), "front or side") {
		t.Errorf("section top: %v", err)
	}
}

// Hives that lack parts, or have them in odd sizes, are drawn all the same: Draw is
// shown drafts that nobody has checked.
func TestOddHives(t *testing.T) {
	base, err := hive.DecodeFile("../../examples/long-hive.yaml")
	if err != nil {
		t.Fatal(err)
	}
	for name, change := range map[string]func(*hive.Hive){
		"no lid, no board": func(h *hive.Hive) { h.Lid, h.TopBoard = hive.Lid{}, nil },
		"no walls":         func(h *hive.Hive) { h.Bodies[0].Walls = [4][]hive.Layer{} },
		"no floor":         func(h *hive.Hive) { h.Floor = hive.Floor{} },
		"no frames":        func(h *hive.Hive) { h.Bodies[0].Frames = hive.Frames{} },
		"mesh without tray": func(h *hive.Hive) {
			h.Floor = hive.Floor{Mesh: true, MeshArea: 0.05}
		},
		"openings everywhere": func(h *hive.Hive) {
			for f := hive.Front; f <= hive.Bottom; f++ {
				h.Openings = append(h.Openings, hive.Opening{Name: f.String(), Face: f, Sill: 0.1, Width: 0.02, Height: 0.02, Shape: hive.Round, Count: 3}, hive.Opening{Name: f.String(), Face: f, Sill: 0.11, Width: 5, Height: 5}, hive.Opening{Face: f, Sill: -1})
			}
		},
		"follower left, turned": func(h *hive.Hive) {
			h.Bodies[0].Turned = true
			h.Followers[0].Side = hive.Front
		},
		"follower of no body": func(h *hive.Hive) { h.Followers[0].Body = 7 },
		"a rim too deep":      func(h *hive.Hive) { h.Lid.Rim, h.Lid.Space = 2, 0.5 },
		"nothing built":       func(h *hive.Hive) { h.Bodies[0].Frames.DrawnShare = 0 },
		"combs that overlap":  func(h *hive.Hive) { h.Bodies[0].Frames.Pitch, h.Bodies[0].Frames.CombThickness = 0.01, 0.05 },
		"below the ground":    func(h *hive.Hive) { h.StandHeight = -1 },
		"a wrap of everything": func(h *hive.Hive) {
			h.Wraps = []hive.Wrap{{Faces: []hive.Face{hive.Front, hive.Back, hive.Left, hive.Right, hive.Top, hive.Bottom}, Layers: h.Bodies[0].Walls[0]}, {}}
		},
	} {
		h := base.Hive.Clone()
		change(&h)
		for _, section := range Sections() {
			svg, err := Draw(h, Options{Section: section, Dimensions: true, Names: true, Alone: true})
			if err != nil {
				t.Errorf("%s: %v", name, err)
				continue
			}
			t.Run(name+", "+string(section), func(t *testing.T) { examine(t, svg) })
		}
	}
}
