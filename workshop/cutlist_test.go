package workshop

import (
	"bytes"
	"encoding/json"
	"math"
	"strings"
	"testing"

	"hackle/change"
	"hackle/hive"
	"hackle/price"
	"hackle/quantity"
)

func TestParseSpec(t *testing.T) {
	for text, want := range map[string]Spec{
		"lid-insulation":                 {Kind: "lid-insulation", Frames: 4},
		"wall-panels=cork 50 mm":         {Kind: "wall-panels", Material: "cork", Thickness: 0.05, Frames: 4},
		"lid-insulation=sheep wool 2 in": {Kind: "lid-insulation", Material: "sheep wool", Thickness: 0.0508, Frames: 4},
		"wall-panels=1-1/2 in":           {Kind: "wall-panels", Thickness: 0.0381, Frames: 4},
		"frame-wires=level wires":        {Kind: "frame-wires", Pattern: hive.SupportLevel, Frames: 4},
		"lid=mineral wool 76 mm":         {Kind: "lid-insulation", Material: "mineral wool", Thickness: 0.076, Frames: 4},
		"lid":                            {Kind: "lid", Frames: 4},
		"follower=6 frames":              {Kind: "follower-board", Frames: 6, Material: "softwood", Thickness: 0.019},
	} {
		got, err := ParseSpec(text, Spec{Frames: 4})
		if err != nil {
			t.Errorf("%s: %v", text, err)
			continue
		}
		if got.Kind != want.Kind || got.Material != want.Material || got.Thickness != want.Thickness || got.Pattern != want.Pattern || got.Frames != want.Frames {
			t.Errorf("%s: %+v, want %+v", text, got, want)
		}
	}
	for text, want := range map[string]string{"canoe": "lid-insulation", "tilt=3°": "needs nothing", "wiring=stiff foundation": "needs nothing"} {
		if _, err := ParseSpec(text, Spec{}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q in it", text, err, want)
		}
	}
}

// TestChangesOfMaterialCanBeMade: of every choice that the catalogue of changes
// offers for a kind that is made of material, the parts come out.
func TestChangesOfMaterialCanBeMade(t *testing.T) {
	made := 0
	for _, k := range change.Catalogue() {
		for _, text := range k.Choices {
			c, err := change.Parse(text)
			if err != nil {
				t.Fatal(err)
			}
			s, ok := ForChange(c)
			if !ok {
				continue
			}
			p := plan(t, "stacked-10")
			if k.Key == "tray" {
				p.Hive.Floor.Mesh, p.Hive.Floor.MeshArea = true, 0.05
			}
			j, err := Make(p, s, DefaultOptions())
			switch {
			case err != nil && strings.Contains(err.Error(), "is soft"): // a batt cannot stand as a panel
			case err != nil:
				t.Errorf("%s: %v", text, err)
			case !j.Fits():
				t.Errorf("%s: %+v", text, j.Checks)
			default:
				made++
			}
		}
	}
	if made < 20 {
		t.Errorf("only %d choices were made", made)
	}
}

func TestCutListSaysAll(t *testing.T) {
	prices, err := price.Standard()
	if err != nil {
		t.Fatal(err)
	}
	w, err := MakeAll(plan(t, "stacked-10"), []Spec{{Kind: "wall-panels"}, {Kind: "lid-insulation"}}, 3, prices, DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	// Panels thicken the walls, but the lid insert still stands on the box, and
	// the panels go up to the insert, as the lid's rim now hangs over that.
	if side := part(t, w.Jobs[0], "frame side"); side.Length != 0.505 {
		t.Errorf("the frame of the lid insert is %v long", side.Length)
	}
	if panel := part(t, w.Jobs[1], "left panel"); math.Abs(panel.Width-0.488) > 1e-9 {
		t.Errorf("the panels are %v high, the boxes together 488 mm", panel.Width)
	}
	if len(w.Plan.Hive.Bodies[0].Walls[hive.Front]) != 3 || len(w.Plan.Hive.Lid.Layers) != 4 {
		t.Errorf("the plan has %d wall layers and %d in the lid", len(w.Plan.Hive.Bodies[0].Walls[hive.Front]), len(w.Plan.Hive.Lid.Layers))
	}
	l := w.List()
	var text bytes.Buffer
	plain := func(s, indent string) string { return indent + s + "\n" }
	if err := l.WriteText(&text, quantity.US, plain); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"19-7/8 in", "For 3 hives together", "invented examples", "kerf and scrap", "left over", "lift with two"} {
		if !strings.Contains(text.String(), want) {
			t.Errorf("the list does not say %q", want)
		}
	}
	raw, err := json.Marshal(l)
	if err != nil {
		t.Fatal(err)
	}
	var back CutList
	if err := json.Unmarshal(raw, &back); err != nil || len(back.Jobs) != 2 || back.Mass != l.Mass {
		t.Errorf("the JSON comes back as %d jobs, %v", len(back.Jobs), err)
	}
	if strings.Contains(string(raw), "null") {
		t.Error("the JSON has a null")
	}
}

func FuzzParseSpec(f *testing.F) {
	for _, s := range []string{"lid=mineral wool 76 mm", "wall-panels=cork 50 mm", "frame-wires=", "=", "wrap=building paper, on 1 Nov"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		s, err := ParseSpec(text, Spec{})
		if err != nil {
			return
		}
		h, err := hive.New("stacked-10")
		if err != nil {
			t.Fatal(err)
		}
		if j, err := Make(hive.Plan{Hive: h}, s, DefaultOptions()); err == nil && len(j.Parts) == 0 {
			t.Errorf("%q makes nothing", text)
		}
	})
}
