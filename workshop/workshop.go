// Package workshop turns a change of a hive into work at the bench: the parts to
// cut with their sizes and allowances, how they lie on the sheets and boards that
// the price list sells, what else to buy, drawings to scale, steps, cautions, and
// checks that what is cut fits the hive it is for.
//
// Make works out one job for one hive: its parts, and where each part sits in the
// hive, so that the parts can be put together in the computer before wood is cut.
// Order nests the parts of several jobs on stock and adds up costs. A Drawing is
// plain data that writes itself as SVG, PDF or DXF.
//
// Lengths are metres, masses kilograms. Heights are those of package hive: z is
// measured upward from the inner face of the floor, x to the right and y to the
// back seen from behind the front, both from the middle of the hive.
package workshop

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"hackle/hive"
	"hackle/material"
	"hackle/quantity"
)

// Options are what the bench works to.
type Options struct {
	Kerf      float64 // of the saw [m]
	Clearance float64 // on each side of a part that goes into another [m]
	BeeSpace  float64 // wanted where bees may pass [m]
	// BattOversize is by how much a compressible batt is cut larger than its
	// space in each direction, so that it holds itself [m].
	BattOversize float64
	Board        float64 // thickness of boards for frames and rims [m]
	Wood         string  // their material
	Ply          float64 // thickness of cover boards and skins [m]
	System       quantity.System
}

// DefaultOptions are usual at a hobby bench: common practice, no source.
func DefaultOptions() Options {
	return Options{
		Kerf: 0.003, Clearance: 0.0015, BeeSpace: 0.008, BattOversize: 0.010,
		Board: 0.019, Wood: "softwood", Ply: 0.006,
	}
}

// Bee space that is neither closed with propolis nor built up with comb: 6 to 9 mm
// (a British club's construction page; other countries say 6.4 to 9.5, 8 to 10).
const (
	BeeSpaceLeast = 0.006 // [m]
	BeeSpaceMost  = 0.009 // [m]
)

// PartError tells which part of a job cannot be made, and why.
type PartError struct {
	Job, Part, Reason string
}

func (e *PartError) Error() string {
	if e.Part == "" {
		return e.Job + ": " + e.Reason
	}
	return fmt.Sprintf("%s, %s: %s", e.Job, e.Part, e.Reason)
}

// check looks at the allowances that a part is cut with.
func (o Options) check(job, part string) error {
	for _, x := range []struct {
		name     string
		value    float64
		min, max float64
	}{
		{"kerf", o.Kerf, 0, 0.010},
		{"clearance", o.Clearance, 0, 0.010},
		{"bee space", o.BeeSpace, BeeSpaceLeast, BeeSpaceMost},
		{"batt oversize", o.BattOversize, 0, 0.040},
		{"board thickness", o.Board, 0.010, 0.060},
		{"plywood thickness", o.Ply, 0.003, 0.025},
	} {
		if !(x.value >= x.min-1e-12 && x.value <= x.max+1e-12) {
			return &PartError{job, part, fmt.Sprintf("%s of %.3g mm; it must lie between %.3g and %.3g mm", x.name, 1000*x.value, 1000*x.min, 1000*x.max)}
		}
	}
	return nil
}

// Part is one kind of piece to cut.
type Part struct {
	Name      string
	Material  material.Material
	Count     int
	Length    float64 // finished, along the grain where that matters [m]
	Width     float64 // finished [m]
	Thickness float64 // finished; of a batt as it is bought [m]
	Over      float64 // cut larger than finished by this in length and width [m]
	Grain     bool    // the length runs along the grain of the stock
	// Outline is the shape when it is no rectangle, as corners from the lower
	// left one on, inside Length by Width.
	Outline  []Corner
	Features []Feature
	At       []Solid // where each piece sits in the hive; none for what is not inside or on it
	Soft     bool    // a batt or cloth that takes the room it is given
	Existing bool    // already there, only to be drilled or marked: not cut, not bought
	Ready    bool    // bought by the piece and trimmed with shears: not nested
	Note     string
}

// Corner is a point in the plane of a part. [m]
type Corner struct{ X, Y float64 }

// FeatureKind says what is done to a part beyond cutting it out.
type FeatureKind string

// The kinds of feature.
const (
	Hole   FeatureKind = "hole"   // round, through
	Notch  FeatureKind = "notch"  // rectangular, through; at an edge or inside
	Rebate FeatureKind = "rebate" // rectangular, of a depth
)

// Feature is a hole, notch or rebate. X and Y are its lower left corner, or the
// middle of a hole.
type Feature struct {
	Kind          FeatureKind
	X, Y          float64 // [m]
	Length, Width float64 // of notches and rebates [m]
	Diameter      float64 // of holes [m]
	Depth         float64 // of rebates [m]
	Note          string
}

// CutSize is the size to saw, before it is pressed into place or trimmed. [m]
func (p Part) CutSize() (length, width float64) { return p.Length + p.Over, p.Width + p.Over }

// Area of the finished face, holes and notches deducted. [m²]
func (p Part) Area() float64 {
	area := p.Length * p.Width
	if len(p.Outline) > 2 {
		area = 0
		for i, a := range p.Outline {
			b := p.Outline[(i+1)%len(p.Outline)]
			area += (a.X*b.Y - b.X*a.Y) / 2
		}
		area = math.Abs(area)
	}
	for _, f := range p.Features {
		switch f.Kind {
		case Hole:
			area -= math.Pi / 4 * f.Diameter * f.Diameter
		case Notch:
			area -= f.Length * f.Width
		}
	}
	return area
}

// Mass of one piece, air-dry. [kg]
func (p Part) Mass() float64 {
	volume := p.Area() * p.Thickness
	for _, f := range p.Features {
		if f.Kind == Rebate {
			volume -= f.Length * f.Width * f.Depth
		}
	}
	if p.Soft { // it is bought and cut larger and then pressed
		l, w := p.CutSize()
		volume = l * w * p.Thickness
	}
	return volume * p.Material.Density
}

// Item is something to buy that is not cut from sheets: fasteners, wire, fill.
type Item struct {
	Name   string
	Amount float64
	Unit   string  // "pieces", "m", "m³", "kg"
	Length float64 // of a fastener [m]
	Note   string
}

// Check is one thing that must hold for the job to fit its hive.
type Check struct {
	Name   string
	OK     bool
	Found  string
	Wanted string
}

// Job is one thing to make for one hive.
type Job struct {
	Kind     string // of Kinds
	Title    string
	Hive     string
	Purpose  string
	Parts    []Part
	Items    []Item
	Steps    []string
	Cautions []string
	Checks   []Check
	Notes    []string
	// Plan is the hive with the job done, as the engine should see it: layers as
	// thick and as conductive as they end up.
	Plan hive.Plan
	// Section is the hive's own parts that the checks and drawings show.
	section []named
}

// Fits reports whether every check holds.
func (j Job) Fits() bool {
	return !slices.ContainsFunc(j.Checks, func(c Check) bool { return !c.OK })
}

// Mass of all new parts. [kg]
func (j Job) Mass() float64 {
	var sum float64
	for _, p := range j.Parts {
		if !p.Existing {
			sum += float64(p.Count) * p.Mass()
		}
	}
	for _, i := range j.Items {
		if i.Unit == "kg" {
			sum += i.Amount
		}
	}
	return sum
}

// Spec says what to make. Zero values take the usual.
type Spec struct {
	Kind      string              // of Kinds
	Material  string              // insulation, wrap or board
	Thickness float64             // of it, as bought [m]
	Cavity    float64             // room for a batt, when less than its thickness [m]
	Faces     []hive.Face         // of wall panels; none: all four
	Body      int                 // counted from the floor, the lowest is 1; 0: the lowest or topmost, as fits
	Frames    int                 // on the bees' side of a follower board
	Pattern   hive.Support        // of frame wires
	Height    float64             // of a windbreak [m]
	Width     float64             // of a windbreak [m]
	On, Off   hive.Day            // of a wrap
	Own       []material.Material // the keeper's own materials, beside the standard table
}

// Kind is one thing that can be made.
type Kind struct {
	Name     string // as written in commands
	Title    string
	Settings string // which of Spec's fields count, for people
	make     func(*bench) error
}

// Kinds returns everything that can be made.
func Kinds() []Kind {
	return []Kind{
		{"lid-insulation", "insulated lid insert", "material, thickness, cavity", lidInsulation},
		{"wall-panels", "insulating wall panels", "material, thickness, faces", wallPanels},
		{"wrap", "winter wrap", "material, thickness, on, off", wrap},
		{"quilt", "quilt box of shavings", "thickness of the fill", quilt},
		{"floor-tray", "tray under a mesh floor", "", floorTray},
		{"entrance-reducer", "entrance reducer", "", entranceReducer},
		{"follower-board", "follower board", "material, thickness, body, frames", followerBoard},
		{"shade-board", "shade board over the lid", "", shadeBoard},
		{"windbreak", "windbreak of slats", "height, width", windbreak},
		{"frame-wires", "wires in the frames", "pattern, body", frameWires},
		{"body", "body", "body", body},
		{"lid", "lid", "", lid},
		{"floor", "floor", "", floor},
		{"top-board", "top board", "", topBoard},
	}
}

// bench is the state of making one job.
type bench struct {
	job     *Job
	spec    Spec
	opt     Options
	h       hive.Hive
	table   *material.Table
	removed []string // parts of the hive that the job takes out
}

// Make works out a job for the hive of a plan. The error is a *PartError when a
// part cannot be made with these sizes. Whether the job fits is told by its
// Checks, not by the error.
func Make(plan hive.Plan, s Spec, o Options) (Job, error) {
	kinds := Kinds()
	i := slices.IndexFunc(kinds, func(k Kind) bool { return k.Name == s.Kind })
	if i < 0 {
		var names []string
		for _, k := range kinds {
			names = append(names, k.Name)
		}
		return Job{}, fmt.Errorf("%q is nothing that can be made: it may be %s", s.Kind, strings.Join(names, ", "))
	}
	k := kinds[i]
	if len(plan.Hive.Bodies) == 0 {
		return Job{}, &PartError{k.Title, "", "the hive has no body"}
	}
	table, err := material.Standard()
	if err != nil {
		return Job{}, err
	}
	if table, err = table.With(append(slices.Clone(plan.Materials), s.Own...)...); err != nil {
		return Job{}, &PartError{k.Title, "", err.Error()}
	}
	if err := o.check(k.Title, "all parts"); err != nil {
		return Job{}, err
	}
	for _, x := range []struct {
		name  string
		value float64
	}{{"thickness", s.Thickness}, {"cavity", s.Cavity}, {"height", s.Height}, {"width", s.Width}} {
		if !(x.value >= 0) || x.value > 10 {
			return Job{}, &PartError{k.Title, "", fmt.Sprintf("%s of %.4g mm; it must lie between 0 and 10 m", x.name, 1000*x.value)}
		}
	}
	job := Job{Kind: k.Name, Title: k.Title, Hive: plan.Hive.Name, Plan: plan.Clone()}
	b := &bench{job: &job, spec: s, opt: o, h: plan.Hive.Clone(), table: table}
	if s.Body < 0 || s.Body > len(b.h.Bodies) {
		return Job{}, &PartError{k.Title, "", fmt.Sprintf("body %d; the hive has %d, the lowest is 1", s.Body, len(b.h.Bodies))}
	}
	if err := k.make(b); err != nil {
		return Job{}, err
	}
	for _, p := range job.Parts {
		switch {
		case !(p.Length > 0) || !(p.Width > 0) || !(p.Thickness > 0):
			return Job{}, &PartError{k.Title, p.Name, fmt.Sprintf("comes out at %.1f × %.1f × %.1f mm, so that nothing is left of it", 1000*p.Length, 1000*p.Width, 1000*p.Thickness)}
		case p.Count <= 0:
			return Job{}, &PartError{k.Title, p.Name, "none of it is needed"}
		}
	}
	for _, p := range job.Parts {
		if p.Ready {
			job.Items = append(job.Items, Item{Name: p.Material.Name, Amount: float64(p.Count), Unit: "pieces", Note: "trimmed to " + b.l(p.Length) + " × " + b.l(p.Width)})
		}
	}
	b.common()
	return job, nil
}

// fail is an error of the job that names a part.
func (b *bench) fail(part, format string, args ...any) error {
	return &PartError{b.job.Title, part, fmt.Sprintf(format, args...)}
}

func (b *bench) find(part, name, usual string) (material.Material, error) {
	if name == "" {
		name = usual
	}
	m, err := b.table.Find(name)
	if err != nil {
		return m, b.fail(part, "%v", err)
	}
	if m.Kind == material.Content {
		return m, b.fail(part, "%s is not something to build with", m.Name)
	}
	return m, nil
}

func (b *bench) wood(part string) (material.Material, error) {
	return b.find(part, b.opt.Wood, "softwood")
}
func (b *bench) part(p Part) { b.job.Parts = append(b.job.Parts, p) }
func (b *bench) step(format string, args ...any) {
	b.job.Steps = append(b.job.Steps, fmt.Sprintf(format, args...))
}
func (b *bench) note(format string, args ...any) {
	b.job.Notes = append(b.job.Notes, fmt.Sprintf(format, args...))
}
func (b *bench) caution(text string) { b.job.Cautions = append(b.job.Cautions, text) }
func (b *bench) l(m float64) string  { return Measure(m, b.opt.System) }
func (b *bench) check(name string, ok bool, found, wanted string) {
	b.job.Checks = append(b.job.Checks, Check{name, ok, found, wanted})
}

// buy adds fasteners, a tenth more than counted.
func (b *bench) buy(name string, count int, length float64, note string) {
	b.job.Items = append(b.job.Items, Item{Name: name, Amount: math.Ceil(1.1 * float64(count)), Unit: "pieces", Length: length, Note: note})
}

// beeSpace checks a gap that bees can reach.
func (b *bench) beeSpace(name string, gap float64) {
	const slack = 1e-6
	b.check(name, gap >= BeeSpaceLeast-slack && gap <= BeeSpaceMost+slack, b.l(gap), fmt.Sprintf("bee space, %s to %s", b.l(BeeSpaceLeast), b.l(BeeSpaceMost)))
}

// beeSpaceBuilt checks a gap that the hive has as it is built: up to 10 mm count,
// as some countries build (a government sheet: 8 to 10 mm).
func (b *bench) beeSpaceBuilt(name string, gap float64) {
	const slack, most = 1e-6, 0.010
	b.check(name, gap >= BeeSpaceLeast-slack && gap <= most+slack, b.l(gap), fmt.Sprintf("bee space, %s to %s; up to %s in built hives", b.l(BeeSpaceLeast), b.l(BeeSpaceMost), b.l(most)))
}

// compressible materials are batts and fleeces that take the room they are given.
func compressible(m material.Material) bool {
	switch m.Name {
	case "mineral wool", "glass wool", "sheep wool", "cotton batt", "straw":
		return true
	}
	return false
}

// radiation is how strongly light wool gains by being pressed: its conductivity
// is a + c/density, the second term the radiation between fibres
// [W/(m·K)·kg/m³]. From the published resistances of one light glass batt in
// three depths: R-19 at 6-1/4 in, R-18 at 5-1/2 in, R-13 to R-14 at 3-1/2 in
// (trade magazine, read).
const radiation = 0.143

// Pressed returns a batt in a space thinner than it is: denser, of lower
// conductivity when it was light, and in all of less resistance than before,
// because it is thinner. Down to half its thickness.
func Pressed(m material.Material, thickness, cavity float64) material.Material {
	if cavity <= 0 || cavity >= thickness {
		return m
	}
	p := m
	p.Density = m.Density * thickness / cavity
	p.Conductivity = max(m.Conductivity-radiation*(1/m.Density-1/p.Density), 0.75*m.Conductivity)
	p.Name = fmt.Sprintf("%s pressed from %.0f to %.0f mm", m.Name, 1000*thickness, 1000*cavity)
	p.Source = m.Source + "; conductivity when pressed: computed"
	return p
}

// common adds what every job carries.
func (b *bench) common() {
	j := b.job
	saw, wool, foam, ply := false, false, false, false
	for _, p := range j.Parts {
		if p.Existing {
			continue
		}
		name := p.Material.Name
		saw = saw || p.Material.Density > 250 && !p.Soft
		ply = ply || strings.Contains(name, "ply") || strings.Contains(name, "MDF") || strings.Contains(name, "board")
		wool = wool || strings.Contains(name, "mineral wool") || strings.Contains(name, "glass wool")
		foam = foam || strings.Contains(name, "PS") || strings.Contains(name, "PIR") || strings.Contains(name, "foam")
	}
	if saw {
		b.caution("Saw with guard, riving knife and push stick, eyes and ears protected; take the dust away and wear a mask. No preservative-treated wood where it may touch bees, wax or honey.")
	}
	if wool {
		b.caution("Mineral and glass wool: mask (N95 or P2), gloves, long sleeves. Cover it on all sides so that neither bees nor people touch the fibres.")
	}
	if foam {
		b.caution("Foam burns, and bees chew it: cover it on the bees' side, and keep smoker, torch, solvents and hot wax away.")
	}
	if ply {
		b.caution("Paint or oil outside faces only and let them cure before bees come near.")
	}
	b.caution("Measure your own hive before cutting: makers' parts differ by several millimetres, and bee space does not forgive it.")
	b.caution("Anything put on must come off again, so that frames can be lifted for an inspector. Local rules and licensed practice come first.")
	b.lift()
	b.job.section = hiveSolids(b.h)
	b.assembly()
	b.neverShut()
}

// neverShut holds that the hive with the job done is open somewhere, all year.
func (b *bench) neverShut() {
	h := b.job.Plan.Hive
	if h.Floor.Mesh && !h.Floor.Tray && len(h.Floor.TrayEvents) == 0 {
		return
	}
	least := math.Inf(1)
	for _, o := range h.Openings {
		width := o.Width
		for _, s := range o.Schedule {
			width = min(width, s.Width)
		}
		if width > 0 {
			least = min(least, o.AreaAt(width))
		}
	}
	ok := !math.IsInf(least, 1)
	found := "none is open all year"
	if ok {
		found = "at least " + quantity.Format(least, quantity.Area, b.opt.System) + " stays open"
	}
	b.check("an opening for bees and air all year", ok, found, "never close every opening of a live colony")
}
