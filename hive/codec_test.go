package hive

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"runtime"
	"slices"
	"strings"
	"testing"
	"testing/iotest"

	"hackle/material"
	"hackle/quantity"
)

func examples(t testing.TB) []string {
	t.Helper()
	paths, err := filepath.Glob("../examples/*.yaml")
	if err != nil || len(paths) < 6 {
		t.Fatalf("found %d examples (%v), want at least 6", len(paths), err)
	}
	return paths
}

func TestExamples(t *testing.T) {
	for _, path := range examples(t) {
		data, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		p, faults, err := Inspect(path, bytes.NewReader(data))
		if err != nil {
			t.Fatal(err)
		}
		if len(faults.List) > 0 {
			t.Errorf("%v", faults)
		}
		if !strings.HasPrefix(p.Notes, "Invented.") {
			t.Errorf("%s: the notes do not begin by saying that the hive is invented", path)
		}
		if !p.Site.HasPlace || p.Hive.Name == "" {
			t.Errorf("%s: no place or no name", path)
		}
	}
}

// TestDecode reads one file that uses most of the format and compares with
// figures worked out by hand.
func TestDecode(t *testing.T) {
	const file = `
version: 1
name: 7
hive:
  type: stacked-10
  bodies:
    - deep
    - {box: medium, name: honey, frames: {count: 9, spacing: 39 mm}, walls: {left: [cork 2 in]}}
  walls: {all: [softwood 1 in], front: [R-5 2 in foil wrap, softwood 3/4 in]}
  frames: {drawn: 50 %}
  floor: {mesh: 800 cm², tray: in, tray schedule: {from: 1 May, tray: out}}
  top board: {hole: 20 mm, hole schedule: [{from: 2026-10-15, hole: closed}]}
  lid: {layers: [bubble foil, plywood 12 mm], vents: 4 cm², finish: {name: mine, solar absorptance: 40 %, emissivity: 90 %}}
  entrance: {schedule: [{from: 1 May, width: full}, {from: Oct 15, width: small}, {from: 1 April, width: 8 cm}]}
  openings:
    - {face: left, hole: 19 mm, at: top, offset: -40 mm, count: 2, mesh: 75 %}
  wraps: {faces: [sides, top], layers: building paper 1 mm, on: 1 Nov, off: 1 Apr}
  front looks to: WSW
  leakage: none
materials:
  cork: {like: cork, conductivity: 0.05 W/(m·K), source: my own}
colony: {bees: 10 frames, date: 15 October 2026}
site: {latitude: 33.9 S, longitude: 151.2° E, height: 50 ft, neighbours: {left: 8 in, right: none}}
`
	p, err := Decode("t.yaml", strings.NewReader(file))
	if err != nil {
		t.Fatal(err)
	}
	h := p.Hive
	same := func(what string, got, want any) {
		t.Helper()
		if !reflect.DeepEqual(got, want) {
			t.Errorf("%s: got %v, want %v", what, got, want)
		}
	}
	near := func(what string, got, want float64) {
		t.Helper()
		if math.Abs(got-want) > 1e-9*math.Abs(want) { // the figures are exact, sums and products round
			t.Errorf("%s: got %g, want %g", what, got, want)
		}
	}
	same("name", h.Name, "7")
	same("bodies", len(h.Bodies), 2)
	same("box", h.Bodies[1].Box, "medium")
	same("body name", h.Bodies[1].Name, "honey")
	same("common frames", h.Bodies[0].Frames.DrawnShare, 0.5)
	same("common frames, listed body", h.Bodies[1].Frames.DrawnShare, 0.5)
	same("frames", h.Bodies[1].Frames.Count, 9)
	near("spacing", h.Bodies[1].Frames.Pitch, 0.039)
	near("wall", h.Bodies[0].Walls[Back][0].Thickness, 0.0254)
	near("front resistance", h.Bodies[1].Walls[Front][0].Resistance, 5*0.3048*0.3048*3600*5/9/1055.05585262)
	same("front material", h.Bodies[1].Walls[Front][0].Material.Name, "foil wrap")
	near("left wall of the listed body", h.Bodies[1].Walls[Left][0].Thickness, 0.0508)
	near("own material", h.Bodies[1].Walls[Left][0].Material.Conductivity, 0.05)
	same("left wall of the other", h.Bodies[0].Walls[Left][0].Material.Name, "softwood")
	same("mesh", h.Floor.Mesh && h.Floor.Tray, true)
	same("tray", h.Floor.TrayEvents, []Switch{{Day{Month: 5, Day: 1}, false}})
	near("hole", h.TopBoard.Hole, math.Pi/4*0.02*0.02)
	same("hole closed", h.TopBoard.HoleEvents, []Switch{{Day{2026, 10, 15}, false}})
	near("sheet", h.Lid.Layers[0].Thickness, 0.0095)
	same("finish", *h.Lid.Finish, Finish{"mine", 0.4, 0.9})
	same("schedule", h.Openings[0].Schedule, []OpeningState{{Day{0, 4, 1}, 0.08}, {Day{0, 5, 1}, 0.375}, {Day{0, 10, 15}, 0.025}})
	near("passage of the entrance", h.Openings[0].Depth, 0.0508+0.01905)
	o := h.Openings[1]
	near("sill at top", o.Sill, 0.010+0.244+0.168-0.019)
	near("passage through the cork", o.Depth, 0.0508)
	same("round", o.Shape, Round)
	same("face", o.Face, Left)
	same("wrap", h.Wraps[0].Faces, []Face{Front, Back, Left, Right, Top})
	near("front", h.FrontAzimuth, 247.5)
	same("leakage", h.LeakArea, 0.0)
	near("bees", p.Colony.Bees, 10*2430*0.11e-3)
	same("date", p.Colony.Date, Day{2026, 10, 15})
	near("latitude", p.Site.Latitude, -33.9)
	near("neighbour", p.Site.Beside[Left], 0.2032)
	near("no neighbour", p.Site.Beside[Right], 0)
	near("longitude", p.Site.Longitude, 151.2)
	near("height", p.Site.Height, 15.24)
}

func TestLayerForms(t *testing.T) {
	rsi := 0.3048 * 0.3048 * 3600 * 5 / 9 / 1055.05585262
	for _, test := range []struct {
		text string
		want layerFile
	}{
		{"softwood 19 mm", layerFile{"softwood", 0.019, 0}},
		{"3 in mineral wool", layerFile{"mineral wool", 0.0762, 0}},
		{"mineral wool 1 1/2 in", layerFile{"mineral wool", 0.0381, 0}},
		{"EPS 20 2 in", layerFile{"EPS 20", 0.0508, 0}},
		{"R-5 2 in wrap", layerFile{"wrap", 0.0508, 5 * rsi}},
		{"RSI 0.88 wrap", layerFile{"wrap", 0, 0.88}},
		{"straw 10 cm R-11", layerFile{"straw", 0.1, 11 * rsi}},
		{"R-5", layerFile{"", 0, 5 * rsi}},
		{"rock wool", layerFile{"rock wool", 0, 0}},
	} {
		got := splitLayer(test.text)
		if got.material != test.want.material || math.Abs(got.thickness-test.want.thickness) > 1e-12 || math.Abs(got.resistance-test.want.resistance) > 1e-9 {
			t.Errorf("%q: got %+v, want %+v", test.text, got, test.want)
		}
	}
}

type faultyFile struct {
	name   string
	text   string
	want   []Fault // Line, Column and Field as they are; Found, Wanted and Hint are parts
	schema bool    // the schema finds it too
}

func faultyFiles() []faultyFile {
	const head = "version: 1\nhive:\n  type: stacked-10\n"
	return []faultyFile{
		{"bare number", head + "  stand: 40\n", []Fault{{Line: 4, Column: 10, Field: "hive.stand", Found: `bare number "40"`, Wanted: "a length such as", Hint: "unit"}}, true},
		{"bare zero", head + "  tilt: 0\n", []Fault{{Line: 4, Column: 9, Field: "hive.tilt", Found: "bare number"}}, true},
		{"wrong unit", head + "  stand: 40 kg\n", []Fault{{Line: 4, Column: 10, Field: "hive.stand", Found: `"40 kg"`, Hint: "is a mass"}}, false},
		{"unknown unit", head + "  stand: 40 cn\n", []Fault{{Line: 4, Column: 10, Field: "hive.stand", Hint: "did you mean"}}, false},
		{"unknown key", head + "  entrence: {width: 8 cm}\n", []Fault{{Line: 4, Column: 3, Field: "hive", Found: `unknown key "entrence"`, Hint: `did you mean "entrance"`}}, true},
		{"key with underscore", head + "  top_board: none\n", []Fault{{Line: 4, Column: 3, Field: "hive", Hint: `did you mean "top board"`}}, true},
		{"duplicate key", head + "  tilt: 1 deg\n  tilt: 2 deg\n", []Fault{{Line: 5, Column: 3, Field: "hive.tilt", Found: "a second time", Hint: "line 4"}}, false},
		{"no version", "hive: {type: warre}\n", []Fault{{Line: 1, Column: 1, Field: "version", Found: "no version"}}, true},
		{"other version", "version: 2\nhive: {kind: 3}\n", []Fault{{Line: 1, Column: 10, Field: "version", Found: `"2"`, Wanted: "1"}}, true},
		{"no hive", "version: 1\n", []Fault{{Line: 1, Column: 1, Field: "hive", Found: "no hive"}}, true},
		{"no type", "version: 1\nhive: {stand: 1 m}\n", []Fault{{Line: 2, Column: 7, Field: "hive.type", Found: "no type"}}, true},
		{"unknown type", "version: 1\nhive:\n  type: stacked 10 frame\n", []Fault{{Line: 3, Column: 9, Field: "hive.type", Found: "stacked 10 frame"}}, true},
		{"near type", "version: 1\nhive:\n  type: natonal\n", []Fault{{Line: 3, Column: 9, Field: "hive.type", Hint: `"national"`}}, true},
		{"unknown box", head + "  bodies: [deep, brod]\n", []Fault{{Line: 4, Column: 18, Field: "hive.bodies[2]", Found: `"brod"`, Wanted: "deep, medium, shallow or jumbo"}}, false},
		{"unknown material", head + "  walls: [sofwood 19 mm]\n", []Fault{{Line: 4, Column: 11, Field: "hive.walls[1]", Found: `unknown material "sofwood"`, Hint: "softwood"}}, false},
		{"layer without thickness", head + "  walls: [softwood]\n", []Fault{{Line: 4, Column: 11, Field: "hive.walls[1]", Found: "without thickness"}}, true},
		{"ambiguous day", head + "  entrance: {schedule: [{from: 5-6, width: full}]}\n", []Fault{{Line: 4, Column: 32, Field: "hive.entrance.schedule[1].from", Hint: "read in two ways"}}, true},
		{"no such day", head + "  entrance: {schedule: [{from: 31 Apr, width: full}]}\n", []Fault{{Line: 4, Column: 32, Field: "hive.entrance.schedule[1].from", Hint: "not in the calendar"}}, false},
		{"leap day", head + "  entrance: {schedule: [{from: 29 Feb, width: full}]}\n", []Fault{{Line: 4, Column: 32, Field: "hive.entrance.schedule[1].from", Hint: "every year"}}, false},
		{"state without day", head + "  entrance: {schedule: [{width: full}]}\n", []Fault{{Line: 4, Column: 25, Field: "hive.entrance.schedule[1].from", Found: "no day"}}, true},
		{"hole and slot", head + "  openings: [{hole: 2 cm, width: 3 cm, height: 1 cm, at: 5 cm}]\n", []Fault{{Line: 4, Column: 14, Field: "hive.openings[1]", Found: "also hole"}}, false},
		{"opening without size", head + "  openings: [{at: 5 cm}]\n", []Fault{{Line: 4, Column: 14, Field: "hive.openings[1]", Found: "no size"}}, false},
		{"opening without height", head + "  openings: [{hole: 2 cm}]\n", []Fault{{Line: 4, Column: 14, Field: "hive.openings[1].at", Found: "no height"}}, false},
		{"opening too high", head + "  openings: [{hole: 2 cm, at: 60 cm}]\n", []Fault{{Line: 4, Column: 31, Field: "hive.openings[1].at", Found: "upper edge at 620 mm", Wanted: "below the top board at 498 mm"}}, false},
		{"opening across a joint", head + "  openings: [{hole: 2 cm, at: 25 cm}]\n", []Fault{{Line: 4, Column: 31, Field: "hive.openings[1].at", Found: "across a joint", Hint: "254 mm"}}, false},
		{"openings overlap", head + "  openings:\n  - {hole: 2 cm, at: 20 cm}\n  - {hole: 2 cm, at: 21 cm, offset: 1 cm}\n", []Fault{{Line: 6, Column: 5, Field: "hive.openings[2]", Found: `across "opening 1"`}}, false},
		{"opening too wide", head + "  entrance: {width: 40 cm}\n", []Fault{{Line: 4, Column: 13, Field: "hive.entrance", Found: "400 mm", Wanted: "375 mm"}}, false},
		{"state wider than opening", head + "  entrance: {schedule: {from: 1 May, width: 50 cm}}\n", []Fault{{Line: 4, Column: 45, Field: "hive.entrance.schedule[1].width", Found: "500 mm"}}, false},
		{"too many frames", head + "  frames: {count: 12}\n", []Fault{
			{Line: 4, Column: 19, Field: "hive.bodies[1].frames.count", Found: "12 combs"},
			{Line: 4, Column: 19, Field: "hive.bodies[2].frames.count", Found: "12 combs"}}, false},
		{"frames too deep", head + "  bodies: [{box: deep, frames: {depth: 25 cm}}]\n", []Fault{{Line: 4, Column: 40, Field: "hive.bodies[1].frames.depth", Found: "stick out 14 mm"}}, false},
		{"comb wider than spacing", head + "  bodies: [{box: deep, frames: {comb thickness: 35 mm}}]\n", []Fault{{Line: 4, Column: 32, Field: "hive.bodies[1].frames.spacing"}}, false},
		{"vents without space", head + "  lid: {air space: none, vents: 4 cm²}\n", []Fault{{Line: 4, Column: 33, Field: "hive.lid.vents", Found: "without air space"}}, false},
		{"mesh larger than floor", head + "  floor: {mesh: 1 m²}\n", []Fault{{Line: 4, Column: 17, Field: "hive.floor.mesh", Found: "1 m²"}}, false},
		{"follower along the frames", head + "  followers: {body: 1, frames: 5, side: front, layers: softwood 19 mm}\n", []Fault{{Line: 4, Column: 41, Field: "hive.followers[1].side", Wanted: "left or right"}}, false},
		{"follower outside", head + "  followers: {body: 3, frames: 5, layers: softwood 19 mm}\n", []Fault{{Line: 4, Column: 21, Field: "hive.followers[1].body", Wanted: "1 to 2"}}, false},
		{"wrap without end", head + "  wraps: {faces: sides, layers: building paper 1 mm, on: 1 Nov}\n", []Fault{{Line: 4, Column: 10, Field: "hive.wraps[1]", Found: "only one"}}, false},
		{"negative thickness", head + "  walls: [softwood -19 mm]\n", []Fault{
			{Line: 4, Column: 10, Field: "hive.bodies[1].walls.front[1]", Found: "-19 mm"}, {Field: "hive.bodies[1].walls.back[1]", Line: 4, Column: 10},
			{Field: "hive.bodies[1].walls.left[1]", Line: 4, Column: 10}, {Field: "hive.bodies[1].walls.right[1]", Line: 4, Column: 10},
			{Field: "hive.bodies[2].walls.front[1]", Line: 4, Column: 10}, {Field: "hive.bodies[2].walls.back[1]", Line: 4, Column: 10},
			{Field: "hive.bodies[2].walls.left[1]", Line: 4, Column: 10}, {Field: "hive.bodies[2].walls.right[1]", Line: 4, Column: 10}}, false},
		{"latitude without side", head + "site: {latitude: 44.5}\n", []Fault{{Line: 4, Column: 18, Field: "site.latitude", Found: "bare number"}}, true},
		{"latitude twice signed", head + "site: {latitude: -44.5 N}\n", []Fault{{Line: 4, Column: 18, Field: "site.latitude"}}, false},
		{"latitude beyond the pole", head + "site: {latitude: 144.5 N}\n", []Fault{{Line: 4, Column: 18, Field: "site.latitude", Wanted: "-90° to 90°"}}, false},
		{"neighbour below", head + "site: {neighbours: {bottom: 1 m}}\n", []Fault{{Line: 4, Column: 21, Field: "site.neighbours"}}, false},
		{"neighbour inside", head + "site: {neighbours: {left: 1 mm}}\n", []Fault{{Line: 4, Column: 27, Field: "site.neighbours.left"}}, false},
		{"exposure", head + "site: {exposure: windy}\n", []Fault{{Line: 4, Column: 18, Field: "site.exposure", Wanted: "open, hedged, wood edge or sheltered"}}, true},
		{"bees", head + "colony: {bees: some frames}\n", []Fault{{Line: 4, Column: 16, Field: "colony.bees", Found: "some frames"}}, true},
		{"empty value", head + "colony:\n", []Fault{{Line: 4, Column: 8, Field: "colony", Found: "nothing"}}, true},
		{"list for a map", head + "colony: [1]\n", []Fault{{Line: 4, Column: 9, Field: "colony", Found: "a list"}}, true},
		{"incomplete material", head + "materials: {pad: {density: 30 kg/m³}}\n", []Fault{
			{Line: 4, Column: 18, Field: "materials.pad", Found: "no conductivity"}, {Line: 4, Column: 18, Field: "materials.pad", Found: "no specific heat"},
			{Line: 4, Column: 18, Field: "materials.pad", Found: "no vapour"}, {Line: 4, Column: 18, Field: "materials.pad", Found: "no vapour"},
			{Line: 4, Column: 18, Field: "materials.pad", Found: "no emissivity"}, {Line: 4, Column: 18, Field: "materials.pad", Found: "no solar"}}, false},
		{"custom body without walls", "version: 1\nhive:\n  type: custom\n  bodies: [{length: 30 cm, width: 30 cm, height: 30 cm, walls: {front: softwood 2 cm, back: softwood 2 cm, left: softwood 2 cm}}]\n",
			[]Fault{{Line: 4, Column: 64, Field: "hive.bodies[1].walls.right", Found: "no wall"}}, false},
		{"all at once", head + "  stand: 4\n  tilt: two deg\nsite: {shade: 300 %}\n", []Fault{
			{Line: 4, Column: 10, Field: "hive.stand"}, {Line: 5, Column: 9, Field: "hive.tilt"}, {Line: 6, Column: 15, Field: "site.shade", Found: "300 %"}}, true},

		{"empty", "", []Fault{{Line: 1, Column: 1, Found: "an empty file"}}, false},
		{"blank", " \n\n", []Fault{{Line: 1, Column: 1, Found: "an empty file"}}, false},
		{"comment alone", "# nothing\n", []Fault{{Line: 1, Column: 1, Found: ""}}, false},
		{"text", "my hive\n", []Fault{{Line: 1, Column: 1, Found: `"my hive"`, Wanted: "a map"}}, false},
		{"UTF-16", "\xff\xfev\x00e\x00r\x00", []Fault{{Line: 1, Column: 1, Found: "UTF-16", Hint: "UTF-8"}}, false},
		{"Latin-1", "version: 1\nname: Warr\xe9\n", []Fault{{Line: 2, Column: 11, Found: "0xe9", Hint: "UTF-8"}}, false},
		{"binary", "version: 1\n\x00\x01\x02", []Fault{{Line: 2, Column: 1, Found: "0x00"}}, false},
		{"tab", "version: 1\nhive:\n\ttype: warre\n", []Fault{{Line: 3, Column: 1, Found: "a tab"}}, false},
		{"truncated", "version: 1\nhive:\n  bodies: [deep,\n", []Fault{{Line: 3, Column: 3, Found: "cannot read"}}, false},
		{"two documents", head + "---\n" + head, []Fault{{Line: 4, Column: 1, Found: "a second document"}}, false},
		{"alias bomb", "a: &a [x, x]\nb: &b [*a, *a]\nc: [*b, *b]\n", []Fault{{Line: 1, Column: 4, Found: "the anchor"}}, false},
		{"merge key", "version: 1\nhive: {<<: *x}\n", []Fault{{Line: 1, Column: 1, Found: "cannot read"}}, false},
		{"tag", "version: 1\nname: !!binary aGl2ZQ==\n", []Fault{{Line: 2, Column: 7, Found: "the tag"}}, false},
		{"huge", strings.Repeat("# x\n", maxFile/4+1), []Fault{{Line: 1, Column: 1, Found: "more than 1 MiB"}}, false},
	}
}

func TestFaults(t *testing.T) {
	for _, test := range faultyFiles() {
		t.Run(test.name, func(t *testing.T) {
			_, err := Decode("yard/h.yaml", strings.NewReader(test.text))
			var faults *Faults
			if !errors.As(err, &faults) {
				t.Fatalf("got %v, want *Faults", err)
			}
			wrong := faults.Wrong()
			if len(wrong) != len(test.want) {
				t.Fatalf("got %d faults, want %d:\n%v", len(wrong), len(test.want), err)
			}
			for i, want := range test.want {
				got := wrong[i]
				if len(wrong) > 1 && got.Field != want.Field { // those of one place come by name
					for _, f := range wrong {
						if f.Field == want.Field {
							got = f
						}
					}
				}
				if got.Line != want.Line || got.Column != want.Column || got.Field != want.Field ||
					!strings.Contains(got.Wanted, want.Wanted) || !strings.Contains(got.Hint, want.Hint) {
					t.Errorf("got %q (%+v)\nwant %+v", got, got, want)
				}
				if len(wrong) == 1 && !strings.Contains(got.Found, want.Found) {
					t.Errorf("found %q, want %q", got.Found, want.Found)
				}
				if line := fmt.Sprintf("yard/h.yaml:%d:%d: ", want.Line, want.Column); !strings.Contains(err.Error(), line) {
					t.Errorf("%q does not print %q", err, line)
				}
			}
		})
	}
}

func TestWarnings(t *testing.T) {
	const head = "version: 1\nhive:\n  type: stacked-10\n"
	for _, test := range []struct {
		name, text string
		line       int
		field      string
		hint       string
	}{
		{"all closed in winter", head + "  entrance: {schedule: [{from: 1 Nov, width: closed}, {from: 1 Mar, width: full}]}\n", 2, "hive", "suffocate"},
		{"no opening", head + "  entrance: none\n", 2, "hive", "suffocate"},
		{"wide end gap", head + "  frames: {length: 440 mm}\n", 4, "hive.bodies[1].frames.length", "comb into it"},
		{"vent behind the lid's rim", head + "  openings: [{hole: 19 mm, at: top}]\n", 4, "hive.openings[1].at", "covers"},
		{"whole hive weighed", head + "colony: {honey: 90 kg}\n", 4, "colony.honey", "whole hive"},
		{"too few bees", head + "colony: {bees: 100 g}\n", 4, "colony.bees", "winter bees"},
		{"missing frames", head + "  bodies: [{box: deep, frames: {count: 6}}]\n", 4, "hive.bodies[1].frames.count", "wild comb"},
		{"tray without mesh", head + "  floor: {tray: in}\n", 4, "hive.floor.tray", "no effect"},
		{"too small for a bee", head + "  openings: [{width: 5 cm, height: 3 mm, at: 5 cm}]\n", 4, "hive.openings[1]", "no bee"},
	} {
		p, faults, err := Inspect("h.yaml", strings.NewReader(test.text))
		if err != nil || len(faults.Wrong()) > 0 {
			t.Errorf("%s: %v %v", test.name, err, faults)
			continue
		}
		found := false
		for _, w := range faults.Warnings() {
			found = found || w.Line == test.line && w.Field == test.field && strings.Contains(w.Hint, test.hint)
		}
		if !found {
			t.Errorf("%s: got %v", test.name, faults)
		}
		if _, err := Decode("h.yaml", strings.NewReader(test.text)); err != nil {
			t.Errorf("%s: a warning alone must not fail: %v", test.name, err)
		}
		if len(p.Check()) != len(faults.List) {
			t.Errorf("%s: the plan by itself has %d faults, its file %d", test.name, len(p.Check()), len(faults.List))
		}
	}
}

func TestManyFaultsAreCapped(t *testing.T) {
	text := "version: 1\nhive:\n  type: warre\n"
	for i := range 50 {
		text += fmt.Sprintf("  key%d: 1\n", i)
	}
	_, err := Decode("h", strings.NewReader(text))
	if err == nil {
		t.Fatal("no error")
	}
	lines := strings.Split(err.Error(), "\n")
	if len(lines) != maxPrinted+1 || !strings.Contains(lines[maxPrinted], "30 more") {
		t.Errorf("got %d lines, the last %q", len(lines), lines[len(lines)-1])
	}
	var faults *Faults
	if !errors.As(err, &faults) || len(faults.List) != 50 {
		t.Errorf("the list itself must hold all faults")
	}
}

func TestByteOrderMarkAndLineEnds(t *testing.T) {
	plain, err := Decode("", strings.NewReader("version: 1\nhive: {type: warre}\nnotes: é\n"))
	if err != nil {
		t.Fatal(err)
	}
	marked, err := Decode("", strings.NewReader("\xef\xbb\xbfversion: 1\r\nhive: {type: warre}\r\nnotes: é\r\n"))
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(plain, marked) {
		t.Error("a byte order mark or CRLF changes the plan")
	}
}

// TestHostileFiles reads files made to be slow; a test that hangs here fails by
// the time limit of go test.
func TestHostileFiles(t *testing.T) {
	const head = "version: 1\nhive:\n  type: stacked-10\n"
	long := strings.Repeat("softwoo ", maxFile/16)
	for name, text := range map[string]string{
		"nested lists":   "version: 1\nhive: " + strings.Repeat("[", maxFile/4),
		"nested maps":    "version: 1\nhive: " + strings.Repeat("{a: ", maxFile/8),
		"nested keys":    strings.Repeat("? ", maxFile/4),
		"many keys":      head + strings.Repeat("  kye: 1\n", maxFile/16),
		"many layers":    head + "  walls: [" + strings.Repeat("sofwood 1 mm, ", maxFile/32) + "]\n",
		"many bodies":    head + "  walls: [" + strings.Repeat("softwood 1 mm, ", 20) + "]\n  bodies: [" + strings.Repeat("deep, ", maxFile/16) + "]\n",
		"many materials": head + "materials: {" + strings.Repeat("a: {like: cork}, ", maxFile/32) + "}\n",
		"long finish":    head + "  finish: " + long + "\n",
		"long layer":     head + "  walls: " + long + "\n",
		"long material":  head + "  walls: {material: " + long + ", thickness: 1 mm}\n",
		"long like":      head + "materials: {a: {like: " + long + "}}\n",
		"long day":       head + "colony: {date: " + long + "}\n",
		"long length":    head + "  stand: " + strings.Repeat("1", maxFile/4) + " mm\n",
		"long word":      head + "site: {exposure: " + long + "}\n",
		"long bees":      head + "colony: {bees: " + strings.Repeat("1", maxFile/4) + " frames}\n",
	} {
		_, err := Decode("h", strings.NewReader(text))
		var faults *Faults
		if !errors.As(err, &faults) {
			t.Errorf("%s: got %v, want *Faults", name, err)
			continue
		}
		if len(err.Error()) > 20000 {
			t.Errorf("%s: a message of %d bytes", name, len(err.Error()))
		}
	}
}

func TestReadError(t *testing.T) {
	broken := errors.New("disk on fire")
	_, err := Decode("h", iotest.ErrReader(broken))
	if !errors.Is(err, broken) {
		t.Errorf("got %v", err)
	}
	if _, err := DecodeFile(filepath.Join(t.TempDir(), "none.yaml")); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("got %v", err)
	}
}

func encoded(t testing.TB, p Plan) string {
	t.Helper()
	var text strings.Builder
	if err := Encode(&text, p, quantity.Metric); err != nil {
		t.Fatalf("%v\n%+v", err, p)
	}
	return text.String()
}

// somePlans returns a plan of every preset and of every example.
func somePlans(t testing.TB) map[string]Plan {
	t.Helper()
	plans := make(map[string]Plan)
	infos, err := Types()
	if err != nil {
		t.Fatal(err)
	}
	for _, info := range infos {
		for _, box := range info.Boxes {
			h, err := New(info.Name, box.Name)
			if err != nil {
				t.Fatal(err)
			}
			plans[info.Name+" "+box.Name] = Plan{Hive: h}
		}
	}
	for _, path := range examples(t) {
		p, err := DecodeFile(path)
		if err != nil {
			t.Fatal(err)
		}
		plans[filepath.Base(path)] = p
	}
	random := rand.New(rand.NewPCG(1, 2))
	for i := range 60 {
		plans[fmt.Sprintf("random %d", i)] = randomPlan(t, random)
	}
	return plans
}

func TestRoundTrip(t *testing.T) {
	for name, p := range somePlans(t) {
		for _, system := range []quantity.System{quantity.Metric, quantity.US} {
			var text bytes.Buffer
			if err := Encode(&text, p, system); err != nil {
				t.Errorf("%s: %v", name, err)
				continue
			}
			back, err := Decode(name, bytes.NewReader(text.Bytes()))
			if err != nil {
				t.Errorf("%v\n%s", err, text.String())
				continue
			}
			if !reflect.DeepEqual(back, p) {
				t.Fatalf("%s: comes back as another plan\n%s\ngot  %+v\nwant %+v", name, text.String(), back, p)
			}
		}
	}
}

// TestEncodeIsTidy: a file says what differs, once, in people's units.
func TestEncodeIsTidy(t *testing.T) {
	const want = `version: 1
name: Orchard 3

hive:
  type: stacked-10
  bodies:
    - deep
    - box: medium
      walls:
        left: [cork 25 mm]
      frames: {count: 9, spacing: 39 mm}
  walls:
    front: [softwood 1 in]
    back: [softwood 1 in]
    right: [R-5 2 in wrap, softwood 3/4 in]
  frames: {drawn: 50 %}
  entrance:
    schedule:
      - {from: 1 Apr, width: small}
      - {from: 1 May, width: full}
      - {from: 15 Oct, width: closed}
  openings:
    - name: upper hole
      face: left
      hole: 3/4 in
      at: 12 in
  followers:
    - body: 1
      frames: 6
      side: right
      layers: [plywood 9 mm]
  front looks to: S

site:
  latitude: 44.47 deg N
  longitude: 73.15 deg W
  height: 104 m
`
	p, err := Decode("h", strings.NewReader(want))
	if err != nil {
		t.Fatal(err)
	}
	var got bytes.Buffer
	if err := Encode(&got, p, quantity.US); err != nil {
		t.Fatal(err)
	}
	if got.String() != want {
		t.Errorf("got\n%s\nwant\n%s", got.String(), want)
	}
}

// randomPlan alters a hive of a random type in random ways that keep it whole.
func randomPlan(t testing.TB, r *rand.Rand) Plan {
	t.Helper()
	table, err := material.Standard()
	if err != nil {
		t.Fatal(err)
	}
	infos, err := Types()
	if err != nil {
		t.Fatal(err)
	}
	info := infos[r.IntN(len(infos)-1)] // not custom
	var boxes []string
	for range 1 + r.IntN(3) {
		boxes = append(boxes, info.Boxes[r.IntN(len(info.Boxes))].Name)
	}
	h, err := New(info.Name, boxes...)
	if err != nil {
		t.Fatal(err)
	}
	maybe := func(change func()) {
		if r.IntN(2) == 0 {
			change()
		}
	}
	layer := func() Layer {
		if r.IntN(4) == 0 {
			return Layer{Material: insulation([]string{"wrap", "blanket, green", "7"}[r.IntN(3)]), Thickness: r.Float64() / 10, Resistance: r.Float64() + 0.1}
		}
		solids := slices.DeleteFunc(table.All(), func(m material.Material) bool { return m.Name == AirGap }) // has rules of its own
		for {
			m := solids[r.IntN(len(solids))]
			if m.Kind == material.Solid {
				return Layer{Material: m, Thickness: float64(1+r.IntN(60)) / 1000}
			}
		}
	}
	layers := func() []Layer {
		list := []Layer{layer()}
		for range r.IntN(3) {
			list = append(list, layer())
		}
		return list
	}
	day := func(month int) Day { return Day{Year: 2026 * r.IntN(2), Month: 1, Day: 1 + r.IntN(28)}.inMonth(month) }
	finish := func() Finish {
		return Finish{Name: fmt.Sprint("paint ", r.IntN(9)), SolarAbsorptance: r.Float64(), Emissivity: 0.1 + 0.9*r.Float64()}
	}
	own := material.Material{Name: "felt, my own", Conductivity: r.Float64()/10 + 0.01, Density: 90 + r.Float64(), SpecificHeat: 1000 + r.Float64(), MuDry: 3, MuWet: 2.5,
		Emissivity: 0.9, SolarAbsorptance: 0.5, Sorption: r.Float64(), Source: "weighed", FromMemory: r.IntN(2) == 0, Note: "two\nlines", Kind: material.Solid}

	var p Plan
	maybe(func() {
		h.Name = []string{"Hive: #7", "12", " spaced ", "true", "two\nlines\n", "ß é ☃", "null", "- x", "'", `"`, "~"}[r.IntN(11)]
	})
	maybe(func() {
		p.Notes = []string{"a\n  b\n\nc", "tab\tin it", "ends with space \nnext", "x: y", "\nbegins empty", "ends\n\n", "2026-10-15"}[r.IntN(7)]
	})
	for i := range h.Bodies {
		b := &h.Bodies[i]
		maybe(func() { b.Walls[r.IntN(4)] = layers() })
		maybe(func() { b.Frames.DrawnShare = r.Float64() })
		maybe(func() { b.Frames.Support = supports()[r.IntN(len(supports()))] })
		maybe(func() { b.Frames.HoneyPerFrame *= r.Float64() })
		if r.IntN(6) == 0 {
			b.Frames = Frames{}
		}
		if r.IntN(6) == 0 {
			b.Box, b.Name = "", "own"
		}
	}
	maybe(func() { // all bodies alike
		wall := layers()
		for i := range h.Bodies {
			for f := range h.Bodies[i].Walls {
				h.Bodies[i].Walls[f] = append([]Layer(nil), wall...)
			}
			if h.Bodies[i].Frames.Count > 0 {
				h.Bodies[i].Frames.CombAge = CombFresh
			}
		}
	})
	maybe(func() {
		p.Materials = []material.Material{own}
		h.Lid.Layers = append(h.Lid.Layers, Layer{Material: own, Thickness: 0.02})
	})
	maybe(func() { h.Floor.Layers = layers() })
	maybe(func() {
		h.Floor.Mesh, h.Floor.MeshArea = true, r.Float64()*0.05
		h.Floor.Tray = r.IntN(2) == 0
		h.Floor.TrayEvents = []Switch{{Day{0, 3, 1}, r.IntN(2) == 0}, {Day{0, 5, 1}, r.IntN(2) == 0}}
	})
	maybe(func() {
		h.TopBoard = nil
		maybe(func() {
			h.TopBoard = &TopBoard{Layers: layers(), Hole: r.Float64() * 1e-3, Permeance: r.Float64() * 1e-3, HoleEvents: []Switch{{Day{2026, 3, 1}, true}}}
		})
	})
	maybe(func() { h.Lid.Space, h.Lid.Vents, h.Lid.Rim = r.Float64()*0.05+0.001, r.Float64()*1e-3, 0 })
	maybe(func() { h.Lid.Finish = nil })
	maybe(func() { f := finish(); h.Lid.Finish = &f })
	maybe(func() { h.Finish = finish() })
	maybe(func() {
		o := &h.Openings[0]
		o.Schedule = []OpeningState{{Day{0, 4, 1}, o.Width}, {Day{0, 6, 1}, r.Float64() * o.Width}, {Day{0, 10, 15}, 0}}
		o.Discharge, o.MeshShare = r.Float64(), r.Float64()
	})
	maybe(func() { h.Openings = h.Openings[:0] })
	maybe(func() {
		base := h.BodyBase(len(h.Bodies) - 1)
		h.Openings = append(h.Openings,
			Opening{Name: "vent, upper", Face: Face(r.IntN(4)), Shape: Round, Width: 0.019, Height: 0.019, Count: 1 + r.IntN(2), Sill: base + 0.05 + r.Float64()*0.01, Depth: r.Float64() * 0.05},
			Opening{Name: "slot", Face: Back, Shape: Slot, Width: 0.05, Height: 0.008, Count: 1, Sill: base + 0.02, Offset: (r.Float64() - 0.5) * 0.05})
	})
	maybe(func() {
		h.Followers = []Follower{{Body: len(h.Bodies) - 1, Frames: min(3, h.Bodies[len(h.Bodies)-1].Frames.Count), Side: []Face{Left, Right}[r.IntN(2)], Layers: []Layer{{Material: own, Thickness: 0.01}}, Gap: r.Float64() * 0.01}}
		if len(p.Materials) == 0 {
			p.Materials = []material.Material{own}
		}
	})
	maybe(func() {
		f := finish()
		h.Wraps = []Wrap{{Name: "coat", Faces: []Face{Left, Top, Front}, Layers: layers(), On: day(11), Off: Day{0, 4, 2}, Finish: &f}, {Name: "rest", Faces: []Face{Front, Back, Left, Right}, Layers: layers()}}
	})
	h.LeakArea *= r.Float64()
	h.FrontAzimuth = []float64{0, 22.5, 180, 123.456, r.Float64() * 359}[r.IntN(5)]
	h.Tilt, h.StandHeight = r.Float64()*4-1, r.Float64()
	maybe(func() {
		p.Colony = Colony{Bees: r.Float64()*3 + 0.2, Date: day(10), Honey: r.Float64() * 10, BroodStart: day(2), BroodPeak: math.Floor(r.Float64() * 40000), ClusterAt: r.Float64() * 0.1, WaterNear: 1000 * r.Float64(),
			Feeds: []Feed{{day(9), feedSyrup, 1 + r.Float64()}, {day(10), feedFondant, 0.5}},
			Flows: []Flow{{day(5), day(6), 1 + r.Float64(), 0.2 + 0.5*r.Float64()}}}
	})
	maybe(func() {
		p.Site = Site{Name: "yard", HasPlace: true, Latitude: r.Float64()*180 - 90, Longitude: r.Float64()*360 - 180, Height: r.Float64()*3000 - 100, Exposure: exposures()[r.IntN(4)], Shade: r.Float64(), Beside: [4]float64{0, r.Float64() + 0.01, 0, 3}}
	})
	maybe(func() {
		p.Measured = Measured{Shell: 0.5 + r.Float64(), Leak: 3 * r.Float64(), Bees: 0.5 + r.Float64(), On: day(2), From: "heater test"}
	})
	p.Hive = h
	standard, err := normal(p, table)
	if err != nil {
		t.Fatal(err)
	}
	return standard
}

func (d Day) inMonth(m int) Day {
	d.Month += -1
	for range m {
		d.Month++
	}
	return d
}

func TestEncodeRefusesFaults(t *testing.T) {
	h, err := New("warre")
	if err != nil {
		t.Fatal(err)
	}
	for name, spoil := range map[string]func(*Plan){
		"not a number":   func(p *Plan) { p.Hive.StandHeight = math.NaN() },
		"infinite":       func(p *Plan) { p.Colony.Honey = math.Inf(1) },
		"no bodies":      func(p *Plan) { p.Hive.Bodies = nil },
		"bad text":       func(p *Plan) { p.Notes = "\x00" },
		"unknown type":   func(p *Plan) { p.Hive.Type = "skep" },
		"unknown box":    func(p *Plan) { p.Hive.Bodies[0].Box = "deep" },
		"impossible day": func(p *Plan) { p.Colony.Date = Day{0, 2, 30} },
		"altered material": func(p *Plan) {
			p.Hive.Bodies[0].Walls[Front][0].Material.Conductivity *= 2
		},
	} {
		p := Plan{Hive: h.Clone()}
		spoil(&p)
		var text bytes.Buffer
		if err := Encode(&text, p, quantity.Metric); err == nil || text.Len() > 0 {
			t.Errorf("%s: error %v, %d bytes written", name, err, text.Len())
		}
	}
}

func TestWriteFile(t *testing.T) {
	h, err := New("national")
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	path := filepath.Join(dir, "h.yaml")
	if err := WriteFile(path, Plan{Hive: h}, quantity.Metric); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(path, 0o600); err != nil {
		t.Fatal(err)
	}
	first, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}

	bad := Plan{Hive: h.Clone()}
	bad.Hive.Tilt = 90
	if err := WriteFile(path, bad, quantity.Metric); err == nil {
		t.Error("a plan with faults was written")
	}
	if now, err := os.ReadFile(path); err != nil || !bytes.Equal(now, first) {
		t.Error("a refused plan touched the file")
	}

	h.Tilt = 3
	if err := WriteFile(path, Plan{Hive: h}, quantity.Metric); err != nil {
		t.Fatal(err)
	}
	p, err := DecodeFile(path)
	if err != nil || p.Hive.Tilt != 3 {
		t.Errorf("got tilt %g, %v", p.Hive.Tilt, err)
	}
	if info, err := os.Stat(path); err != nil || runtime.GOOS != "windows" && info.Mode().Perm() != 0o600 {
		t.Errorf("permissions changed: %v %v", info.Mode(), err)
	}
	if entries, err := os.ReadDir(dir); err != nil || len(entries) != 1 {
		t.Errorf("%d files left beside it (%v)", len(entries)-1, err)
	}
	if err := WriteFile(filepath.Join(dir, "none", "h.yaml"), Plan{Hive: h}, quantity.Metric); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("got %v", err)
	}
}

func FuzzDecode(f *testing.F) {
	for _, path := range examples(f) {
		data, err := os.ReadFile(path)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	for _, test := range faultyFiles() {
		if len(test.text) < 10000 {
			f.Add([]byte(test.text))
		}
	}
	random := rand.New(rand.NewPCG(3, 4))
	for range 10 {
		f.Add([]byte(encoded(f, randomPlan(f, random))))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		p, faults, err := Inspect("f", bytes.NewReader(data))
		if err != nil {
			t.Fatal(err)
		}
		for _, fault := range faults.List {
			if fault.Line < 1 || fault.Column < 1 || fault.Found == "" || fault.Wanted == "" {
				t.Errorf("fault without place or words: %+v", fault)
			}
		}
		if len(faults.Wrong()) > 0 {
			return
		}
		var text bytes.Buffer
		if err := Encode(&text, p, quantity.Metric); err != nil {
			t.Fatalf("%v\n%s", err, data)
		}
		back, err := Decode("f", bytes.NewReader(text.Bytes()))
		if err != nil {
			t.Fatal(err)
		}
		again := encoded(t, back)
		if again != text.String() {
			t.Errorf("the second writing differs:\n%s\n%s", text.String(), again)
		}
	})
}
