package change

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"hackle/climate"
	"hackle/hive"
	"hackle/price"
	"hackle/quantity"
)

// Cautions, in the words of docs/cautions.md. Local rules come first.
const (
	cautionWool   = "Mineral and glass wool: mask, gloves, long sleeves; cover it on all sides so that neither bees nor people touch fibres."
	cautionFoam   = "Foam burns and its smoke is poisonous: keep smoker, torch and solvents away, cover it with wood or metal, bees chew it when bare."
	cautionSaw    = "Saws and drills: guard, eye and ear protection, no gloves near a turning blade; keep dust from your lungs."
	cautionOpen   = "Never close every opening of a hive with a living colony; keep snow and dead bees out of what is left."
	cautionCold   = "Do not open the hive in the cold: 15 °C or more for a full look."
	cautionLift   = "A full deep body weighs 36 to 41 kg: take frames out or lift with two."
	cautionPaint  = "Paint the outside only, without bees in it, and let it cure; do not sand old paint dry, it may hold lead."
	cautionRob    = "Reduce the entrance before you feed, feed inside at evening, spill nothing: robbing spreads disease."
	cautionFeed   = "Amounts and last dates are local. No honey from elsewhere: it carries foulbrood. Never feed while supers for harvest are on."
	cautionMove   = "Ask before you move bees: moves must be registered in many places, and disease zones forbid them. Strap the hive, keep it ventilated, move at night, with two."
	cautionMice   = "Keep mice out before the cold: a slot of 7.5 mm or less, or a guard."
	cautionSting  = "Work calmly, protected, and with somebody within call: any sting can be one too many."
	cautionLocked = "Frames must still come out for an inspector without damage."
	cautionShade  = "Take the cloth down before the cold: in winter the sun helps."
)

const days = " Without days it stays all year."

// dayParams are the days of something that is on for part of the year.
func dayParams(on, off string) []Param {
	return []Param{
		{Key: "on", Meaning: on, Type: Day},
		{Key: "off", Meaning: off, Type: Day},
	}
}

func layerParam(meaning string, low, high float64) Param {
	return Param{Key: "layer", Meaning: meaning, Type: Layer, Low: low, High: high, Must: true}
}

func words[S ~string](list ...S) (out []string) {
	for _, s := range list {
		out = append(out, string(s))
	}
	return out
}

// steps of exposure, from windy to still.
var exposures = [...]hive.Exposure{hive.Open, hive.Hedged, hive.WoodEdge, hive.Sheltered}

// Catalogue returns every kind of change, in the order in which they are applied.
// The hours of work are common practice, no source.
func Catalogue() []Kind {
	return []Kind{
		{
			Key: "move", Name: "Another yard", Does: "Moves the hive to another place, with its weather, wind and shade.",
			Params: []Param{
				{Key: "to", Meaning: "the yard", Type: Name, Must: true},
				{Key: "way", Meaning: "length of the way there", Type: Quantity, Quantity: quantity.Length, Low: 0, High: 2e6, Default: "0 m"},
				{Key: "exposure", Meaning: "wind there", Type: Word, Words: words(exposures[:]...)},
			},
			Choices: []string{"move=burlington-vt"}, Cautions: []string{cautionMove, cautionLift, cautionSting}, Sets: []string{"yard"}, apply: move,
		},
		{
			Key: "windbreak", Name: "Windbreak", Does: "Nets or hedges on the windward side: less wind on the shell and less pressure on the openings. One step stiller when no other is said.",
			Params: []Param{{Key: "to", Meaning: "wind afterwards", Type: Word, Words: words(exposures[1:]...)}},
			// One net serves the hives behind it; counted for one hive.
			Choices: []string{"windbreak"}, Sets: []string{"wind"}, apply: windbreak,
		},
		{
			Key: "stand", Name: "Stand", Does: "Sets the hive higher or lower. Wind grows with height, damp and snow lie low.",
			Params:  []Param{{Key: "height", Meaning: "underside of the floor above ground", Type: Quantity, Quantity: quantity.Length, Low: 0.05, High: 1.5, Must: true}},
			Choices: []string{"stand=45 cm"}, Cautions: []string{cautionLift}, Sets: []string{"stand"}, apply: stand,
		},
		{
			Key: "tilt", Name: "Tilt", Does: "Leans the hive forward, so that rain stays out and, from 10° on, water under the lid runs to the front wall instead of dripping.",
			Params:  []Param{{Key: "angle", Meaning: "front lower than back", Type: Quantity, Quantity: quantity.Angle, Low: 0, High: 15, Must: true}},
			Choices: []string{"tilt=3°", "tilt=10°"}, Cautions: []string{"A tilted hive tips sooner: strap it. Combs hang upright only across the tilt; frames that run side to side hang off their walls."}, Sets: []string{"tilt"}, apply: tilt,
		},
		{
			Key: "water", Name: "Water near", Does: "Sets out water near the hives: shorter flights in heat, more cooling.",
			Params:  []Param{{Key: "within", Meaning: "distance", Type: Quantity, Quantity: quantity.Length, Low: 1, High: 5000, Must: true}},
			Choices: []string{"water=50 m"}, Cautions: []string{"Give the bees something to stand on, keep it clean, and away from neighbours and stock."}, Sets: []string{"water"}, apply: water,
		},
		{
			Key: "take box", Name: "Smaller winter space", Does: "Takes a box off: less to keep warm, if the honey finds room in the rest.",
			Params:  []Param{{Key: "from", Meaning: "where", Type: Word, Words: []string{"top", "bottom"}, Default: "top"}},
			Choices: []string{"take box"}, Cautions: []string{cautionLift, cautionCold, cautionSting}, Sets: []string{"number of boxes"}, apply: takeBox,
		},
		{
			Key: "add box", Name: "Larger winter space", Does: "Puts a box of drawn comb on or under: more room, more to keep warm.",
			Params: []Param{
				{Key: "box", Meaning: "box of the hive's type", Type: Name, Must: true},
				{Key: "at", Meaning: "where", Type: Word, Words: []string{"top", "bottom"}, Default: "top"},
			},
			Choices: []string{"add box=medium"}, Cautions: []string{cautionLift, cautionCold, cautionSaw}, Sets: []string{"number of boxes"}, apply: addBox,
		},
		{
			Key: "follower", Name: "Follower board", Does: "Shuts the bees off from part of every body, so that they warm fewer combs. A board that is there is moved.",
			Params: []Param{
				{Key: "frames", Meaning: "frames left on the bees' side", Type: Count, Low: 1, High: 40, Must: true},
				{Key: "layer", Meaning: "the board", Type: Layer, Low: 0.003, High: 0.1, Default: "softwood 19 mm"},
				{Key: "side", Meaning: "where the empty side lies", Type: Word, Words: []string{"left", "right", "front", "back"}},
			},
			Choices: []string{"follower=8 frames", "follower=6 frames"}, Cautions: []string{cautionCold, "Honey beyond the board is out of reach: put full frames on the bees' side first."}, Sets: []string{"followers"}, apply: follower,
		},
		{
			Key: "wiring", Name: "Support of the comb", Does: "Gives fresh comb another support in its frame, so that it holds when it is heavy and warm.",
			Params: []Param{
				{Key: "support", Meaning: "pattern", Type: Word, Words: words(hive.SupportUpright, hive.SupportLevel, hive.SupportCrossed, hive.SupportSticks, hive.SupportStiffCore), Must: true},
				{Key: "comb", Meaning: "old comb is replaced as well when fresh is said", Type: Word, Words: []string{"fresh"}},
			},
			Choices: []string{"wiring=crossed wires", "wiring=level wires", "wiring=stiff foundation", "wiring=sticks"}, Cautions: []string{"A new support goes in before comb is built: the bees build it anew, which costs them honey that is not counted here."}, Sets: []string{"wiring"}, apply: wiring,
		},
		{
			Key: "tray", Name: "Mesh floor closed", Does: "Puts a tray below a mesh floor: no wind from below, less fresh air." + days,
			Params: append([]Param{{Key: "layer", Meaning: "the tray, where there is none", Type: Layer, Low: 0.001, High: 0.1, Default: "plywood 4 mm"}},
				dayParams("day the tray goes in", "day it comes out")...),
			Choices: []string{"tray=on 1 Oct, off 1 May", "tray"}, Cautions: []string{cautionOpen}, Sets: []string{"tray"}, apply: tray,
		},
		{
			Key: "walls", Name: "Insulated walls", Does: "Insulation outside on the walls of all bodies, with a cover over it.",
			Params: []Param{
				layerParam("insulation", 0.005, 0.2),
				{Key: "faces", Meaning: "which walls", Type: Sides, Default: "sides"},
				{Key: "cover", Meaning: "what covers it", Type: Layer, Low: 0.0003, High: 0.05, Default: "plywood 6 mm"},
			},
			Choices: []string{"walls=XPS 25 mm", "walls=XPS 38 mm", "walls=wood fibre 40 mm", "walls=cork 50 mm", "walls=mineral wool 50 mm", "walls=XPS 38 mm, faces back left right"}, Cautions: []string{cautionSaw, cautionLocked}, Sets: []string{"walls"}, apply: walls,
		},
		{
			Key: "quilt", Name: "Quilt box", Does: "Fill over a cloth in place of the top board, with a vented space above: moist air seeps through and the fill takes up water.",
			Params: []Param{
				layerParam("fill", 0.02, 0.3),
				{Key: "vents", Meaning: "vents of the space above, all together", Type: Quantity, Quantity: quantity.Area, Low: 1e-4, High: 0.05, Default: "20 cm²"},
			},
			Choices: []string{"quilt=wood shavings 100 mm", "quilt=sheep wool 100 mm"}, Cautions: []string{cautionSaw, "Change wet fill; keep bees and mice out of it with cloth and mesh."}, Sets: []string{"top board"}, apply: quilt,
		},
		{
			Key: "board hole", Name: "Hole of the top board", Does: "Opens or closes the hole in the top board." + days,
			Params: append([]Param{{Key: "state", Meaning: "what it is, between the days when some are said", Type: Word, Words: []string{"closed", "open"}, Must: true}},
				dayParams("first day of it", "day it ends")...),
			Choices: []string{"board hole=closed", "board hole=closed, on 1 Oct, off 1 May"}, Cautions: []string{cautionOpen}, Sets: []string{"top board", "board hole"}, apply: boardHole,
		},
		{
			Key: "lid", Name: "Insulated lid", Does: "Insulation below the roof or on the top board: heat rises, and water settles where it is coldest, so that a warm lid keeps it off the bees.",
			Params: []Param{
				layerParam("insulation", 0.005, 0.3),
				{Key: "place", Meaning: "in the lid, or on the top board where the lid's space is vented", Type: Word, Words: []string{"lid", "board"}},
			},
			Choices: []string{"lid=mineral wool 38 mm", "lid=mineral wool 76 mm", "lid=XPS 50 mm", "lid=PIR 50 mm", "lid=wood fibre 60 mm", "lid=sheep wool 50 mm", "lid=wood shavings 100 mm", "lid=bubble foil 9.5 mm"}, Sets: []string{"lid insulation"}, apply: lid,
		},
		{
			Key: "roof colour", Name: "Roof colour", Does: "Paints the roof: a light one stays cooler in the sun, a dark one dries sooner in winter.",
			Params:  []Param{{Key: "colour", Meaning: "finish", Type: Name, Must: true}},
			Choices: []string{"roof colour=white paint", "roof colour=dark paint"}, Cautions: []string{cautionPaint}, Sets: []string{"roof colour"}, apply: roofColour,
		},
		{
			Key: "hive colour", Name: "Colour of the walls", Does: "Paints the walls, which also keeps rain out of the wood.",
			Params:  []Param{{Key: "colour", Meaning: "finish", Type: Name, Must: true}},
			Choices: []string{"hive colour=white paint", "hive colour=dark paint"}, Cautions: []string{cautionPaint}, Sets: []string{"hive colour"}, apply: hiveColour,
		},
		{
			Key: "top vent", Name: "Top vent", Does: "A hole just below the lid: takes moist air out, and heat with it. With days it is open between them.",
			Params: append([]Param{
				{Key: "hole", Meaning: "diameter", Type: Quantity, Quantity: quantity.Length, Low: 0.006, High: 0.06, Default: "20 mm"},
				{Key: "face", Meaning: "side", Type: Word, Words: []string{"front", "back", "left", "right"}, Default: "front"},
			}, dayParams("day it opens", "day it closes")...),
			Choices: []string{"top vent=20 mm", "top vent=20 mm, on 15 Apr, off 1 Nov"}, Cautions: []string{cautionSaw, "Above 9 mm it is a second entrance to guard against robbing."}, Sets: []string{"top vent"}, apply: topVent,
		},
		{
			Key: "upper entrance", Name: "Upper entrance", Does: "A flight hole in the upper body: a way out above snow, and air. With days it is open between them.",
			Params: append([]Param{
				{Key: "hole", Meaning: "diameter", Type: Quantity, Quantity: quantity.Length, Low: 0.012, High: 0.05, Default: "22 mm"},
				{Key: "at", Meaning: "share of the topmost body's height", Type: Quantity, Quantity: quantity.Fraction, Low: 0.1, High: 0.8, Default: "60 %"},
			}, dayParams("day it opens", "day it closes")...),
			Choices: []string{"upper entrance=22 mm"}, Cautions: []string{cautionSaw, "A second entrance is one more to guard against robbing."}, Sets: []string{"upper entrance"}, apply: upperEntrance,
		},
		{
			Key: "close vents", Name: "Upper vents closed", Does: "Closes every opening in the upper half but the main entrance, and the hole of the top board." + days,
			Params: dayParams("day they close", "day they open again"), Choices: []string{"close vents", "close vents=on 1 Oct, off 1 May"},
			Cautions: []string{cautionOpen}, Sets: []string{"upper openings", "board hole"}, apply: closeVents,
		},
		{
			Key: "entrance", Name: "Entrance width", Does: "Narrows the main entrance: less wind, fewer robbers and mice, less fresh air. With days it is so between them and full otherwise.",
			Params: append([]Param{{Key: "width", Meaning: "open width", Type: Quantity, Quantity: quantity.Length, Low: 0.006, High: 1, Must: true}},
				dayParams("day it is narrowed", "day it is full again")...),
			Choices: []string{"entrance=25 mm, on 1 Oct, off 1 May", "entrance=75 mm, on 1 Oct, off 1 May", "entrance=150 mm, on 1 Oct, off 1 May"}, Cautions: []string{cautionOpen, cautionMice}, Sets: []string{"entrance"}, apply: entrance,
		},
		{
			Key: "wrap", Name: "Winter wrap", Does: "A coat round the bodies from autumn to spring: keeps wind out of the joints' faces, insulates or, when dark, takes up sun.",
			Params: append([]Param{
				layerParam("coat", 0.0002, 0.15),
				{Key: "faces", Meaning: "which sides", Type: Sides, Default: "sides"},
				{Key: "colour", Meaning: "finish while it is on; the coat's own when none is said", Type: Name},
			}, withDefaults(dayParams("day it goes on", "day it comes off"), "1 Nov", "1 Apr")...),
			Choices: []string{"wrap=building paper 0.8 mm", "wrap=XPS 25 mm", "wrap=wool felt 10 mm", "wrap=bubble foil 9.5 mm"}, Cautions: []string{cautionOpen}, Sets: []string{"wrap"}, apply: wrap,
		},
		{
			Key: "winter top", Name: "Removable winter top", Does: "An insulated cap over the roof from autumn to spring.",
			Params: append([]Param{layerParam("insulation", 0.005, 0.3)},
				withDefaults(dayParams("day it goes on", "day it comes off"), "1 Nov", "1 Apr")...),
			Choices: []string{"winter top=XPS 50 mm", "winter top=mineral wool 76 mm"}, Cautions: []string{"Weigh or strap it down against wind."}, Sets: []string{"winter top"}, apply: winterTop,
		},
		{
			Key: "shade", Name: "Shade cloth", Does: "Keeps off a share of the direct sun." + days,
			Params: append([]Param{{Key: "share", Meaning: "of direct sun kept off", Type: Quantity, Quantity: quantity.Fraction, Low: 0.05, High: 0.95, Must: true}},
				dayParams("day it goes up", "day it comes down")...),
			Choices: []string{"shade=50 %, on 1 Jun, off 1 Sep"}, Cautions: []string{cautionShade}, Sets: []string{"shade"}, apply: shade,
		},
		{
			Key: "feed", Name: "Feed", Does: "Gives stores. Syrup is taken only while it is warm: without a day it is given early enough for the last warm week; fondant goes later.",
			Params: []Param{
				{Key: "stores", Meaning: "what it adds as ripe stores", Type: Quantity, Quantity: quantity.Mass, Low: 0.2, High: 40, Must: true},
				{Key: "kind", Meaning: "food", Type: Word, Words: []string{"syrup", "fondant"}, Default: "syrup"},
				{Key: "day", Meaning: "day it is given", Type: Day},
			},
			Choices: []string{"feed=5 kg", "feed=10 kg", "feed=2 kg, fondant, day 1 Feb"}, Cautions: []string{cautionFeed, cautionRob}, Sets: []string{"feed"}, apply: feed,
		},
	}
}

func withDefaults(p []Param, on, off string) []Param {
	p[0].Default, p[1].Default = on, off
	return p
}

func between(on, off hive.Day, ok bool) string {
	if !ok {
		return ""
	}
	return fmt.Sprintf(" from %s to %s", on, off)
}

func move(b *bench) error {
	name := b.word("to")
	yard, ok := b.site.Yards[name]
	if !ok {
		sites, err := climate.Sites()
		if err != nil {
			return fmt.Errorf("change move: %w", err)
		}
		i := slices.IndexFunc(sites, func(s climate.Site) bool { return s.Name == name })
		if i < 0 {
			var known []string
			for k := range b.site.Yards {
				known = append(known, k)
			}
			slices.Sort(known)
			return b.refuse("%q is no yard of yours (%s) and no built-in weather, which hackle weather list shows", name, cmp.Or(strings.Join(known, ", "), "none named"))
		}
		s := sites[i]
		yard = Yard{Site: hive.Site{Name: s.Place, Latitude: s.Latitude, Longitude: s.Longitude, Height: s.Height, HasPlace: true, Exposure: b.plan.Site.Exposure, Shade: b.plan.Site.Shade}, Weather: s.Name}
	}
	if b.site.Weather != nil && b.site.Weather.Name == yard.Weather && yard.Site == b.plan.Site {
		return b.notHere("it stands there already")
	}
	b.plan.Site = yard.Site
	if e := b.word("exposure"); e != "" {
		b.plan.Site.Exposure = hive.Exposure(e)
	}
	b.result.Weather = yard.Weather
	b.effect.Drive = 2 * b.number("way")
	b.effect.Hours = 1.5 + b.effect.Drive/60e3 // 60 km/h
	b.part("strap", 1)
	b.did("Moved to %s.", yard.Site.Name)
	return nil
}

func windbreak(b *bench) error {
	now := cmp.Or(b.plan.Site.Exposure, hive.Hedged)
	at := slices.Index(exposures[:], now)
	to := b.word("to")
	if at == len(exposures)-1 {
		return b.notHere("the site is sheltered already")
	}
	if to == "" {
		to = string(exposures[at+1])
	}
	if slices.Index(exposures[:], hive.Exposure(to)) <= at {
		return b.notHere("the site is %s already", now)
	}
	b.plan.Site.Exposure = hive.Exposure(to)
	b.part("windbreak net", 4)
	b.part("post", 3)
	b.effect.Hours, b.effect.YearlyHours = 2, 0.25
	b.did("Windbreak: the site is %s instead of %s.", to, now)
	return nil
}

func stand(b *bench) error {
	to := b.number("height")
	if math.Abs(to-b.plan.Hive.StandHeight) < 0.01 {
		return b.notHere("it stands %s above ground already", b.show(b.plan.Hive.StandHeight, quantity.Length))
	}
	b.did("Stand of %s instead of %s.", b.show(to, quantity.Length), b.show(b.plan.Hive.StandHeight, quantity.Length))
	b.plan.Hive.StandHeight = to
	b.part("stand", 1)
	b.effect.Hours = 0.75
	return nil
}

func tilt(b *bench) error {
	to := b.number("angle")
	if math.Abs(to-b.plan.Hive.Tilt) < 0.05 {
		return b.notHere("it leans by %s already", b.show(b.plan.Hive.Tilt, quantity.Angle))
	}
	b.did("Leans forward by %s instead of %s.", b.show(to, quantity.Angle), b.show(b.plan.Hive.Tilt, quantity.Angle))
	b.plan.Hive.Tilt = to
	b.part("wedge", 2)
	b.effect.Hours = 0.2
	return nil
}

func water(b *bench) error {
	to, now := b.number("within"), b.plan.Colony.WaterNear
	if now > 0 && now <= to {
		return b.notHere("there is water within %s already", b.show(now, quantity.Length))
	}
	b.plan.Colony.WaterNear = to
	b.part("water trough", 1)
	b.effect.Hours, b.effect.YearlyHours = 0.5, 2
	b.did("Water within %s.", b.show(to, quantity.Length))
	return nil
}

// shift moves everything that hangs on the height of bodies from one height on.
func (b *bench) shift(from, by float64) {
	h := &b.plan.Hive
	for i := range h.Openings {
		if o := &h.Openings[i]; o.Sill >= from-1e-6 {
			o.Sill = round(o.Sill + by)
		}
	}
	if c := &b.plan.Colony.ClusterAt; *c > from {
		*c = max(0.05, *c+by)
	}
}

func room(bodies []hive.Body) (kg float64) {
	for _, x := range bodies {
		kg += float64(x.Frames.Count) * x.Frames.HoneyPerFrame
	}
	return kg
}

// mostFilled is the share of all combs that honey may fill: bees need room of their
// own. Common practice, no source.
const mostFilled = 0.85

func takeBox(b *bench) error {
	h := &b.plan.Hive
	if len(h.Bodies) < 2 {
		return b.notHere("there is one box")
	}
	i := len(h.Bodies) - 1
	if b.word("from") == "bottom" {
		i = 0
	}
	low, high := h.BodyBase(i), h.BodyBase(i+1)
	rest := slices.Delete(slices.Clone(h.Bodies), i, i+1)
	if honey := b.plan.Colony.Honey; mostFilled*room(rest) < honey {
		return b.notHere("the rest holds %s beside the bees, and there are %s of honey", b.show(mostFilled*room(rest), quantity.Mass), b.show(honey, quantity.Mass))
	}
	if e := b.entrance(); e >= 0 {
		if o := h.Openings[e]; o.Sill >= low-1e-6 && o.Sill < high {
			return b.notHere("the main entrance is in that box")
		}
	}
	gone := []string{}
	h.Openings = slices.DeleteFunc(h.Openings, func(o hive.Opening) bool {
		in := o.Sill >= low-1e-6 && o.Sill+o.Height <= high+1e-6
		if in {
			gone = append(gone, o.Name)
		}
		return in
	})
	h.Followers = slices.DeleteFunc(h.Followers, func(f hive.Follower) bool { return f.Body == i })
	for j := range h.Followers {
		if h.Followers[j].Body > i {
			h.Followers[j].Body--
		}
	}
	name := h.Bodies[i].Name
	h.Bodies = rest
	b.shift(high, low-high)
	if c := &b.plan.Colony.ClusterAt; *c > h.Height() {
		*c = 0
	}
	b.effect.Hours = 0.75
	what := b.word("from") + " box"
	if name != "" && name != "box" {
		what += " (" + name + ")"
	}
	b.did("Took off the %s.", what)
	if len(gone) > 0 {
		b.did("Took off the %s, and with it %s.", what, strings.Join(gone, ", "))
	}
	return nil
}

func addBox(b *bench) error {
	h := &b.plan.Hive
	if h.Type == hive.Custom || h.Type == "" {
		return b.notHere("a hive of one's own has no boxes by name")
	}
	if strings.HasPrefix(h.Type, "long-") || h.Type == "top-bar" {
		return b.notHere("a long hive has one box")
	}
	fresh, err := hive.New(h.Type, b.word("box"))
	if err != nil {
		return b.refuse("%v", err)
	}
	box := fresh.Bodies[0]
	beside := h.Bodies[0]
	if b.word("at") == "top" {
		beside = *b.top()
	}
	if math.Abs(box.FloorArea()-beside.FloorArea()) > 1e-3 {
		return b.refuse("it does not fit on the box below")
	}
	at := len(h.Bodies)
	if b.word("at") == "bottom" {
		at = 0
		b.shift(h.BodyBase(0), box.Height)
		for j := range h.Followers {
			h.Followers[j].Body++
		}
	}
	h.Bodies = slices.Insert(h.Bodies, at, box)
	for f := hive.Front; f <= hive.Right; f++ {
		for _, l := range box.Walls[f] {
			b.need(l, faceArea(&box, f))
		}
	}
	b.part("frame", box.Frames.Count)
	b.part("sheet of foundation", box.Frames.Count)
	b.fastener("wood screw", 0.06, 24)
	b.effect.Hours = 2.5
	b.did("Put on a box %s at the %s.", box.Name, b.word("at"))
	return nil
}

func follower(b *bench) error {
	l, err := b.layer("layer")
	if err != nil {
		return err
	}
	h := &b.plan.Hive
	n := int(b.number("frames"))
	if len(h.Followers) > 0 {
		moved := 0
		for i := range h.Followers {
			if f := &h.Followers[i]; f.Frames != n && n < h.Bodies[f.Body].Frames.Count {
				f.Frames = n
				moved++
			}
		}
		if moved == 0 {
			return b.notHere("the follower board stands there already, or the body has no more than %d frames", n)
		}
		b.effect.Hours = 0.25 * float64(moved)
		b.did("Follower board moved behind frame %d.", n)
		return nil
	}
	boards := 0
	for i := range h.Bodies {
		body := &h.Bodies[i]
		if body.Frames.Count <= n {
			continue
		}
		side := map[string]hive.Face{"left": hive.Left, "right": hive.Right, "front": hive.Front, "back": hive.Back}[b.word("side")]
		if b.word("side") == "" {
			side = hive.Right
			if body.Turned {
				side = hive.Back
			}
		}
		if float64(body.Frames.Count)*body.Frames.Pitch+l.Thickness > body.Width {
			body.Frames.Count-- // one frame gives its room to the board
		}
		h.Followers = append(h.Followers, hive.Follower{Body: i, Frames: n, Side: side, Layers: []hive.Layer{l}, Gap: 0.006})
		b.need(l, body.Length*body.Height)
		boards++
	}
	if boards == 0 {
		return b.notHere("no body has more than %d frames", n)
	}
	b.effect.Hours = 0.5 * float64(boards)
	b.did("Follower board behind frame %d in %d of %d bodies.", n, boards, len(h.Bodies))
	return nil
}

func wiring(b *bench) error {
	to := hive.Support(b.word("support"))
	renew := b.word("comb") == "fresh"
	frames, old, bars := 0, false, 0
	for i := range b.plan.Hive.Bodies {
		f := &b.plan.Hive.Bodies[i].Frames
		switch {
		case f.Count == 0 || f.Support == to && (!renew || f.CombAge == hive.CombFresh):
		case f.Bars:
			bars += f.Count
		case f.CombAge != hive.CombFresh && !renew:
			old = true
		default:
			f.Support, f.CombAge = to, hive.CombFresh
			frames += f.Count
		}
	}
	switch {
	case frames == 0 && bars > 0:
		return b.notHere("top bars have no side bars to hold a support")
	case frames == 0 && old:
		return b.notHere("the comb has held brood and hangs in its old support; say \"comb fresh\" to have it replaced")
	case frames == 0:
		return b.notHere("the comb has %s already", to)
	}
	switch to {
	case hive.SupportSticks:
		b.part("dowel", 2*frames)
	case hive.SupportStiffCore:
		b.part("sheet of stiff foundation", frames)
	default:
		b.part("frame wire", frames)
		b.part("sheet of foundation", frames)
	}
	b.effect.Hours = 0.15 * float64(frames)
	b.did("%d frames of fresh comb on %s.", frames, to)
	return nil
}

func tray(b *bench) error {
	f := &b.plan.Hive.Floor
	if !f.Mesh {
		return b.notHere("the floor is a board, without mesh")
	}
	on, off, dated := b.days()
	if !dated && f.Tray && len(f.TrayEvents) == 0 {
		return b.notHere("the tray is in all year")
	}
	if len(f.Layers) == 0 {
		l, err := b.layer("layer")
		if err != nil {
			return err
		}
		f.Layers = []hive.Layer{l}
		b.part("tray for a mesh floor", 1)
	}
	f.Tray, f.TrayEvents = true, nil
	if dated {
		f.Tray, f.TrayEvents = false, []hive.Switch{{From: on, On: true}, {From: off, On: false}}
		b.effect.YearlyHours = 0.1
	}
	b.effect.Hours = 0.1
	b.did("Tray below the mesh%s.", cmp.Or(between(on, off, dated), " all year"))
	return nil
}

func walls(b *bench) error {
	l, err := b.insulation("layer")
	if err != nil {
		return err
	}
	cover, err := b.layer("cover")
	if err != nil {
		return err
	}
	v, _ := b.value("faces")
	added := l.Thickness + cover.Thickness
	for _, f := range v.Faces {
		for i := range b.plan.Hive.Bodies {
			w := &b.plan.Hive.Bodies[i].Walls[f]
			if thickness(*w)+added > 0.5 {
				return b.refuse("the walls would be more than half a metre thick")
			}
			b.need(l, faceArea(&b.plan.Hive.Bodies[i], f))
			b.need(cover, faceArea(&b.plan.Hive.Bodies[i], f))
			b.fastener("wood screw", 0.06, 8)
		}
	}
	for _, f := range v.Faces {
		for i := range b.plan.Hive.Bodies {
			w := &b.plan.Hive.Bodies[i].Walls[f]
			*w = append([]hive.Layer{cover, l}, *w...)
		}
		for i := range b.plan.Hive.Openings {
			if o := &b.plan.Hive.Openings[i]; o.Face == f && o.Sill >= b.plan.Hive.BodyBase(0)-1e-6 {
				o.Depth += added
			}
		}
	}
	if b.plan.Hive.Lid.Rim > 0 {
		b.warn(fmt.Sprintf("The lid reaches %s down over the walls and must be made wider, or the insulation must end below it.", b.show(b.plan.Hive.Lid.Rim, quantity.Length)))
	}
	b.effect.Hours = 0.6 * float64(len(v.Faces)*len(b.plan.Hive.Bodies))
	b.did("%s under %s on %s.", sentence(l, b.show), sentence(cover, b.show), faceText(v.Faces))
	return nil
}

func faceText(faces []hive.Face) string {
	if len(faces) == 4 {
		return "all four sides"
	}
	var list []string
	for _, f := range faces {
		list = append(list, f.String())
	}
	return strings.Join(list, ", ")
}

func quilt(b *bench) error {
	h := &b.plan.Hive
	if h.TopBoard != nil && h.TopBoard.Permeance > 0 {
		return b.notHere("there is a quilt already")
	}
	l, err := b.insulation("layer")
	if err != nil {
		return err
	}
	cloth, err := b.table.Find("burlap")
	if err != nil {
		return fmt.Errorf("change quilt: %w", err)
	}
	// Air permeance of a cloth that bees have closed in part: that of the preset
	// hives with quilts, an estimate. [m³/(s·m²·Pa)]
	const permeance = 1e-4
	board := hive.TopBoard{Layers: []hive.Layer{l, {Material: cloth, Thickness: 0.001}}, Permeance: permeance}
	if h.TopBoard != nil {
		board.Space = h.TopBoard.Space
	}
	h.TopBoard = &board
	h.Lid.Space = max(h.Lid.Space, 0.02)
	h.Lid.Vents = max(h.Lid.Vents, b.number("vents"))
	area := b.top().FloorArea()
	b.need(l, area)
	b.need(board.Layers[1], area)
	wood, err := b.table.Find("softwood")
	if err != nil {
		return fmt.Errorf("change quilt: %w", err)
	}
	width, depth := b.roof()
	b.need(hive.Layer{Material: wood, Thickness: 0.019}, 2*(width+depth)*(l.Thickness+h.Lid.Space)) // its rim
	b.part("insect mesh", 2)
	b.fastener("wood screw", 0.06, 12)
	b.fastener("staple", 0, 40)
	b.effect.Hours, b.effect.YearlyHours = 2, 0.25
	b.did("Quilt box: %s on a cloth, with %s of vents above.", sentence(l, b.show), b.show(h.Lid.Vents, quantity.Area))
	return nil
}

func boardHole(b *bench) error {
	board := b.plan.Hive.TopBoard
	switch {
	case board == nil:
		return b.notHere("there is no top board")
	case board.Hole == 0:
		return b.notHere("the top board has no hole")
	}
	on, off, dated := b.days()
	open := b.word("state") == "open"
	switch {
	case dated:
		board.HoleEvents = []hive.Switch{{From: on, On: open}, {From: off, On: !open}}
		b.effect.YearlyHours = 0.1
	case open && len(board.HoleEvents) == 0:
		return b.notHere("the hole is open all year already")
	case open:
		board.HoleEvents = nil
	default:
		board.Hole, board.HoleEvents = 0, nil
	}
	b.part("plug", 1)
	b.effect.Hours = 0.1
	b.did("Hole of the top board %s%s.", b.word("state"), cmp.Or(between(on, off, dated), " all year"))
	return nil
}

func lid(b *bench) error {
	l, err := b.insulation("layer")
	if err != nil {
		return err
	}
	h := &b.plan.Hive
	place, closed := b.word("place"), false
	vented := h.Lid.Vents > 0 && h.TopBoard != nil
	if place == "" {
		place = "lid"
		if vented && h.TopBoard.Permeance == 0 {
			place = "board"
		}
	}
	if place == "board" {
		if h.TopBoard == nil {
			return b.notHere("there is no top board to lay it on")
		}
		h.TopBoard.Layers = append([]hive.Layer{l}, h.TopBoard.Layers...)
		if h.TopBoard.Hole > 0 {
			h.TopBoard.Hole, h.TopBoard.HoleEvents, closed = 0, nil, true
			b.part("plug", 1)
		}
	} else {
		h.Lid.Layers = append(h.Lid.Layers, l)
		if vented {
			b.warn("The space below this lid is vented, so that insulation above it keeps little: lay it on the top board.")
		}
	}
	area := b.roofArea()
	b.need(l, area)
	wood, err := b.table.Find("softwood")
	if err != nil {
		return fmt.Errorf("change lid: %w", err)
	}
	if !isFoam(l.Material.Name) { // soft and loose ones need a rim to lie in
		width, depth := b.roof()
		b.need(hive.Layer{Material: wood, Thickness: 0.019}, 2*(width+depth)*l.Thickness)
	}
	if isLoose(l.Material.Name) {
		cloth, err := b.table.Find("burlap")
		if err != nil {
			return fmt.Errorf("change lid: %w", err)
		}
		b.need(hive.Layer{Material: cloth, Thickness: 0.001}, area)
	}
	b.fastener("staple", 0, 20)
	b.effect.Hours = 0.75
	where := "below the roof"
	if place == "board" {
		where = "on the top board"
		if closed {
			where += ", its hole closed"
		}
		if space := h.Lid.Space; l.Thickness > space {
			b.warn(fmt.Sprintf("The space above the top board is %s high: raise the lid on a rim of %s.", b.show(space, quantity.Length), b.show(l.Thickness-space, quantity.Length)))
		}
	}
	b.did("%s %s.", sentence(l, b.show), where)
	return nil
}

func roofColour(b *bench) error {
	f, err := b.finish(b.word("colour"))
	if err != nil {
		return err
	}
	now := b.plan.Hive.Finish
	if own := b.plan.Hive.Lid.Finish; own != nil {
		now = *own
	}
	if now == f {
		return b.notHere("the roof is %s already", f.Name)
	}
	b.plan.Hive.Lid.Finish = &f
	b.paint(f.Name, b.roofArea()*1.3) // with its rim
	b.effect.Hours = 0.5
	b.did("Roof in %s instead of %s.", f.Name, now.Name)
	return nil
}

func hiveColour(b *bench) error {
	f, err := b.finish(b.word("colour"))
	if err != nil {
		return err
	}
	h := &b.plan.Hive
	if h.Finish == f {
		return b.notHere("the walls are %s already", f.Name)
	}
	now := h.Finish
	if h.Lid.Finish == nil { // the roof keeps its look
		h.Lid.Finish = &now
	}
	h.Finish = f
	b.paint(f.Name, b.sideArea(faceWords[:]))
	b.effect.Hours = 0.5 + 0.4*float64(len(h.Bodies))
	b.did("Walls in %s instead of %s.", f.Name, now.Name)
	return nil
}

func topVent(b *bench) error {
	h := &b.plan.Hive
	if slices.ContainsFunc(h.Openings, func(o hive.Opening) bool { return o.Name == "top vent" }) {
		return b.notHere("there is a top vent already")
	}
	d := b.number("hole")
	face := map[string]hive.Face{"front": hive.Front, "back": hive.Back, "left": hive.Left, "right": hive.Right}[b.word("face")]
	// A finger's breadth below the rim of the lid.
	sill := h.StackTop() - h.Lid.Rim - 0.02 - d
	if sill < h.BodyBase(len(h.Bodies)-1) {
		return b.refuse("the topmost body is too low for it below the rim of the lid")
	}
	o := b.hole("top vent", face, d, sill)
	on, off, dated := b.days()
	if dated {
		openBetween(&o, on, off)
		b.effect.YearlyHours = 0.1
	}
	h.Openings = append(h.Openings, o)
	b.part("plug", 1)
	b.effect.Hours = 0.25
	b.did("Top vent of %s in the %s%s.", b.show(d, quantity.Length), face, cmp.Or(between(on, off, dated), ", open all year"))
	return nil
}

func upperEntrance(b *bench) error {
	h := &b.plan.Hive
	if slices.ContainsFunc(h.Openings, func(o hive.Opening) bool { return o.Name == "upper entrance" }) {
		return b.notHere("there is an upper entrance already")
	}
	d, t := b.number("hole"), b.top()
	base := h.BodyBase(len(h.Bodies) - 1)
	sill := base + max(0.005, min(b.number("at")*t.Height-d/2, t.Height-h.Lid.Rim-d-0.01))
	o := b.hole("upper entrance", hive.Front, d, sill)
	on, off, dated := b.days()
	if dated {
		openBetween(&o, on, off)
		b.effect.YearlyHours = 0.1
	}
	h.Openings = append(h.Openings, o)
	b.part("plug", 1)
	b.effect.Hours = 0.25
	b.did("Upper entrance of %s, %s above the floor%s.", b.show(d, quantity.Length), b.show(o.Sill, quantity.Length), cmp.Or(between(on, off, dated), ", open all year"))
	return nil
}

func closeVents(b *bench) error {
	h := &b.plan.Hive
	up := b.upper()
	hole := h.TopBoard != nil && h.TopBoard.Hole > 0
	if len(up) == 0 && !hole {
		return b.notHere("nothing in the upper half is open")
	}
	on, off, dated := b.days()
	var names []string
	for _, i := range up {
		o := &h.Openings[i]
		names = append(names, o.Name)
		if dated {
			openBetween(o, off, on)
		}
		b.part("plug", max(1, o.Count))
	}
	if !dated {
		h.Openings = slices.DeleteFunc(h.Openings, func(o hive.Opening) bool { return slices.Contains(names, o.Name) })
	}
	if hole {
		names = append(names, "the hole of the top board")
		b.part("plug", 1)
		if dated {
			h.TopBoard.HoleEvents = []hive.Switch{{From: on, On: false}, {From: off, On: true}}
		} else {
			h.TopBoard.Hole, h.TopBoard.HoleEvents = 0, nil
		}
	}
	b.effect.Hours = 0.1
	if dated {
		b.effect.YearlyHours = 0.2
	}
	b.did("Closed %s%s.", strings.Join(names, ", "), cmp.Or(between(on, off, dated), " for good"))
	return nil
}

func entrance(b *bench) error {
	i := b.entrance()
	if i < 0 {
		return b.notHere("there is no main entrance")
	}
	o := &b.plan.Hive.Openings[i]
	w := b.number("width")
	if w > o.Width+1e-6 {
		return b.notHere("the entrance is %s wide when full", b.show(o.Width, quantity.Length))
	}
	on, off, dated := b.days()
	want := []hive.OpeningState{{From: hive.Day{Month: 1, Day: 1}, Width: w}}
	if dated {
		want = []hive.OpeningState{{From: on, Width: w}, {From: off, Width: o.Width}}
		b.effect.YearlyHours = 0.1
	}
	now := slices.Clone(o.Schedule)
	slices.SortFunc(now, func(x, y hive.OpeningState) int {
		return cmp.Or(cmp.Compare(x.From.Month, y.From.Month), cmp.Compare(x.From.Day, y.From.Day))
	})
	sorted := slices.Clone(want)
	slices.SortFunc(sorted, func(x, y hive.OpeningState) int {
		return cmp.Or(cmp.Compare(x.From.Month, y.From.Month), cmp.Compare(x.From.Day, y.From.Day))
	})
	if slices.Equal(now, sorted) {
		return b.notHere("it is so already")
	}
	o.Schedule = sorted
	b.part("entrance reducer", 1)
	b.effect.Hours = 0.1
	b.did("Entrance %s wide%s.", b.show(w, quantity.Length), cmp.Or(between(on, off, dated), " all year"))
	return nil
}

func wrap(b *bench) error {
	l, err := b.layer("layer")
	if err != nil {
		return err
	}
	v, _ := b.value("faces")
	on, off, _ := b.days()
	w := hive.Wrap{Name: "wrap", Faces: v.Faces, Layers: []hive.Layer{l}, On: on, Off: off}
	if name := b.word("colour"); name != "" {
		f, err := b.finish(name)
		if err != nil {
			return err
		}
		w.Finish = &f
	} else if m := l.Material; m.SolarAbsorptance > 0 && m.Emissivity > 0 {
		w.Finish = &hive.Finish{Name: m.Name, SolarAbsorptance: m.SolarAbsorptance, Emissivity: m.Emissivity}
	}
	for _, x := range b.plan.Hive.Wraps {
		if slices.ContainsFunc(x.Faces, func(f hive.Face) bool { return slices.Contains(w.Faces, f) }) {
			return b.notHere("there is the wrap %q already", x.Name)
		}
	}
	b.plan.Hive.Wraps = append(b.plan.Hive.Wraps, w)
	b.need(l, b.sideArea(v.Faces)*1.1) // laps
	b.part("strap", 1)
	b.effect.Hours, b.effect.YearlyHours = 0.5, 0.4
	b.did("Wrap of %s round %s%s.", sentence(l, b.show), faceText(v.Faces), between(on, off, true))
	return nil
}

func winterTop(b *bench) error {
	l, err := b.insulation("layer")
	if err != nil {
		return err
	}
	for _, x := range b.plan.Hive.Wraps {
		if slices.Contains(x.Faces, hive.Top) {
			return b.notHere("there is %q over the roof already", x.Name)
		}
	}
	skin, err := b.table.Find("galvanised steel")
	if err != nil {
		return fmt.Errorf("change winter top: %w", err)
	}
	on, off, _ := b.days()
	cover := hive.Layer{Material: skin, Thickness: 0.0004}
	w := hive.Wrap{Name: "winter top", Faces: []hive.Face{hive.Top}, Layers: []hive.Layer{cover, l}, On: on, Off: off}
	if f := b.plan.Hive.Lid.Finish; f != nil {
		look := *f
		w.Finish = &look
	}
	b.plan.Hive.Wraps = append(b.plan.Hive.Wraps, w)
	area := b.roofArea()
	b.need(l, area)
	b.need(cover, area*1.3)
	b.part("strap", 1)
	b.effect.Hours, b.effect.YearlyHours = 1.5, 0.2
	b.did("Winter top with %s%s.", sentence(l, b.show), between(on, off, true))
	return nil
}

func shade(b *bench) error {
	share := b.number("share")
	on, off, dated := b.days()
	if dated {
		b.result.Shades = append(b.result.Shades, Shade{Share: share, From: on, To: off})
		b.effect.YearlyHours = 0.3
	} else {
		b.plan.Site.Shade = 1 - (1-b.plan.Site.Shade)*(1-share)
	}
	b.part("shade cloth", 1)
	b.part("post", 4)
	b.effect.Hours = 1
	b.did("Shade keeps off %s of the direct sun%s.", b.show(share, quantity.Fraction), cmp.Or(between(on, off, dated), " all year"))
	return nil
}

// Feeding, common practice, no source: a colony takes up about 1.5 kg of stores a
// day from a good feeder, and a kilogram of ripe stores asks for 0.9 kg of sugar
// once the bees' work is paid.
const (
	storesPerDay    = 1.5 // [kg]
	sugarPerStores  = 0.9 // [kg/kg]
	syrupWarmth     = 10  // mean of a week from which syrup is taken: extension texts, second-hand [°C]
	fondantPerStore = 1.1 // a tenth of it is water [kg/kg]
)

// LastSyrupDay is the last day of autumn on which so much syrup can still be given
// so that the colony takes it while the mean of seven days is 10 °C or more. Of a
// record of several years it is the day that held in three years of four. ok is
// false when no week of the second half of the year is that warm, or every one is.
func LastSyrupDay(w *climate.Series, stores float64) (day hive.Day, ok bool) {
	const week = 7 * 24
	if w == nil || len(w.Hours) < week {
		return hive.Day{}, false
	}
	zone := w.Location()
	// The half year that ends at midwinter begins with July, in the south January.
	begin := 7
	if w.Latitude < 0 {
		begin = 1
	}
	last := make(map[int]int) // day of the half year that is the last warm one, by year
	full := make(map[int]bool)
	sum := 0.0
	for i, h := range w.Hours {
		sum += h.TempAir
		if i >= week {
			sum -= w.Hours[i-week].TempAir
		}
		at := w.Start.In(zone).Add(hours(i))
		m := int(at.Month()) - begin
		if at.Hour() != 23 || m < 0 || m >= 6 {
			continue
		}
		year := at.Year()
		n := m*31 + at.Day()
		if m == 0 && at.Day() <= 7 {
			full[year] = true
		}
		if i >= week-1 && sum/week >= syrupWarmth {
			last[year] = n
		}
	}
	var ends []int
	for year := range full {
		if n, ok := last[year]; ok {
			ends = append(ends, n)
		}
	}
	if len(ends) == 0 {
		return hive.Day{}, false
	}
	slices.Sort(ends)
	n := ends[len(ends)/4]
	if n >= 5*31+31 {
		return hive.Day{}, false // it never gets cold
	}
	date := dayOf(begin, n).AddDate(0, 0, -int(math.Ceil(stores/storesPerDay)))
	return hive.Day{Month: date.Month(), Day: date.Day()}, true
}

func feed(b *bench) error {
	stores, kind := b.number("stores"), b.word("kind")
	v, said := b.value("day")
	day := v.Day
	last, known := LastSyrupDay(b.site.Weather, stores)
	switch {
	case !said && kind == "fondant":
		return b.refuse("fondant needs the day it is given")
	case !said && !known:
		return b.refuse("the last warm week is not known without weather: give the day")
	case !said:
		day = last
	case kind == "syrup":
		if warm, ok := weekFrom(b.site.Weather, day); ok && warm < syrupWarmth {
			reason := fmt.Sprintf("the week from %s has a mean of %s, and syrup asks for %s", day, b.show(warm, quantity.Temperature), b.show(syrupWarmth, quantity.Temperature))
			if known {
				reason += fmt.Sprintf("; in autumn %s must be given by %s", b.show(stores, quantity.Mass), last)
			}
			return b.refuse("%s", reason)
		}
	}
	c := &b.plan.Colony
	if most := mostFilled * room(b.plan.Hive.Bodies); most < c.Honey+stores {
		return b.refuse("the combs hold %s beside the bees, and there are %s already", b.show(most, quantity.Mass), b.show(c.Honey, quantity.Mass))
	}
	// Before the day that honey was weighed for, it simply is more on that day.
	if !c.Date.IsZero() && !after(day, c.Date, south(b.plan, b.site)) {
		c.Honey += stores
		b.did("%s of stores fed as %s by %s: so much more honey on %s.", b.show(stores, quantity.Mass), kind, day, c.Date)
	} else {
		c.Feeds = append(c.Feeds, hive.Feed{Day: day, Kind: kind, Honey: stores})
		b.did("%s of stores fed as %s on %s.", b.show(stores, quantity.Mass), kind, day)
	}
	sugar := sugarPerStores
	if kind == "fondant" {
		sugar = fondantPerStore
	}
	b.effect.YearlyNeeds = append(b.effect.YearlyNeeds, price.Need{Name: "sugar", Measure: price.Mass, Amount: sugar * stores})
	b.part("feeder", 1)
	b.effect.YearlyHours = 0.5 + 0.1*math.Ceil(stores/5)
	return nil
}
