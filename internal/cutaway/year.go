package cutaway

import (
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"hackle/hive"
	"hackle/season"
)

// Year is what can be drawn of a run, by the hour. Every value is a whole number of
// small steps, so that it is the same wherever the picture is made. A Year is safe
// to read from several goroutines.
type Year struct {
	hive    hive.Hive
	start   time.Time
	hours   int
	slabs   []season.Slab
	columns []string
	breadth float64 // of the core [m]
	list    []series
	index   map[string]int
}

// series is one channel in whole steps.
type series struct {
	name, unit string
	per        int   // steps in one unit
	first      int   // lowest value, in steps
	values     []int // above the lowest, in steps
}

func (s *series) at(hour int) float64 {
	return float64(s.first+s.values[hour]) / float64(s.per)
}

// keep is a channel of the trace that is drawn or told, and its step.
type keep struct {
	name string
	per  int // steps in one unit of the trace
}

// kept are the channels taken from a trace, beside those of slabs and openings.
func kept() []keep {
	return []keep{
		{"outdoor.temp", 10}, {"outdoor.humidity", 100}, {"outdoor.wind", 10}, {"outdoor.sun", 1},
		{"bees.core", 10}, {"bees.mantle", 10}, {"bees.air", 10}, {"bees.heat", 10}, {"bees.limit_share", 100},
		{"bees.mass", 100}, {"bees.sealed", 1}, {"bees.radius", 1000}, {"bees.height", 1000}, {"bees.fanned", 1e6}, {"bees.outside", 100},
		{"bees.confined", 1}, {"bees.isolated", 1},
		{"honey.left", 100}, {"honey.reach", 10}, {"nectar.unripe", 100},
		{"air.under_lid", 10}, {"air.at_cluster", 10}, {"air.at_floor", 10}, {"air.warm_depth", 1000}, {"air.out", 1e6},
		{"humidity.under_lid", 100}, {"humidity.at_cluster", 100}, {"co2.at_cluster", 10000},
		{"water.lid", 1e4}, {"water.overhead", 1e4}, {"water.walls", 1e4}, {"water.floor", 1e4}, {"water.combs", 1e4},
		{"face.lid", 10}, {"face.wall_coldest", 10}, {"comb.warmest", 10}, {"air.in_lid", 10},
	}
}

// mostSteps is the largest number of steps between the least and the greatest value
// of a channel: two bytes.
const mostSteps = 65535

// Compact keeps of a trace what is drawn.
func Compact(tr *season.Trace) (*Year, error) {
	if tr == nil || tr.Hours == 0 {
		return nil, errors.New("cutaway: a trace without hours")
	}
	if len(tr.Hive.Bodies) == 0 {
		return nil, fmt.Errorf("cutaway: the hive %q has no body", tr.Hive.Name)
	}
	y := &Year{hive: tr.Hive.Clone(), start: tr.Start, hours: tr.Hours, slabs: slices.Clone(tr.Slabs), columns: slices.Clone(tr.Columns), index: map[string]int{}}
	for _, k := range kept() {
		y.add(k.name, tr, k.per)
	}
	for c, name := range y.columns {
		for k := range y.slabs {
			y.add(fmt.Sprintf("air.%s.%d", columnName(c, name), k+1), tr, 10)
			y.add(fmt.Sprintf("comb.%s.%d", columnName(c, name), k+1), tr, 10)
		}
	}
	for i := range tr.Hive.Openings {
		y.add(fmt.Sprintf("opening.%d.in", i+1), tr, 1e6)
		y.add(fmt.Sprintf("opening.%d.out", i+1), tr, 1e6)
	}
	y.breadth = coreBreadth(tr)
	fills := newStores(&y.hive, y.slabs, len(y.columns), y.breadth).follow(tr)
	for c := range fills {
		for k := range y.slabs {
			if y.slabs[k].Comb {
				hours := make([]float64, y.hours)
				for h := range hours {
					hours[h] = fills[c][h][k]
				}
				y.quantise(fmt.Sprintf("fill.%s.%d", y.columns[c], k+1), "-", hours, 50)
			}
		}
	}
	y.schedules()
	return y, nil
}

func columnName(c int, name string) string {
	if name != "" {
		return name
	}
	return []string{"core", "flank", "beyond"}[min(c, beyond)]
}

// coreBreadth is how broad the core is drawn: as the nest on the middle of its
// hours. [m]
func coreBreadth(tr *season.Trace) float64 {
	r := slices.Clone(tr.Get("bees.radius"))
	if len(r) == 0 {
		return 0.2
	}
	slices.Sort(r)
	return max(0.06, 2*r[len(r)/2])
}

func (y *Year) add(name string, tr *season.Trace, per int) {
	values := tr.Get(name)
	if len(values) < tr.Hours {
		return
	}
	for _, c := range tr.Channels {
		if c.Name == name {
			y.quantise(name, c.Unit, values[:tr.Hours], per)
			return
		}
	}
}

// quantise adds a channel. What is not a number counts as 0.
func (y *Year) quantise(name, unit string, values []float64, per int) {
	steps := func(per int) (first, span int, q []int) {
		q = make([]int, len(values))
		for i, v := range values {
			x := math.Floor(v*float64(per) + 0.5)
			if math.IsNaN(x) {
				x = 0
			}
			q[i] = int(min(max(x, -1e9), 1e9))
		}
		first = slices.Min(q)
		return first, slices.Max(q) - first, q
	}
	first, span, q := steps(per)
	for span > mostSteps && per > 1 {
		per = max(1, per/10)
		first, span, q = steps(per)
	}
	for i := range q {
		q[i] = min(q[i]-first, mostSteps)
	}
	y.index[name] = len(y.list)
	y.list = append(y.list, series{name, unit, per, first, q})
}

// schedules adds what the calendar opens, closes, puts on and takes off.
func (y *Year) schedules() {
	h := &y.hive
	hourly := func(name string, per int, on func(time.Time) float64) {
		v := make([]float64, y.hours)
		for i := range v {
			if t := y.Time(i); i == 0 || t.Hour() == 0 {
				v[i] = on(t)
			} else {
				v[i] = v[i-1]
			}
		}
		y.quantise(name, "-", v, per)
	}
	for i := range h.Openings {
		o := h.Openings[i]
		hourly(fmt.Sprintf("opening.%d.share", i+1), 1000, func(t time.Time) float64 { return openShare(o, t) })
	}
	for i := range h.Wraps {
		hourly(fmt.Sprintf("wrap.%d.on", i+1), 1, func(t time.Time) float64 { return one(h.Wraps[i].OnAt(t)) })
	}
	if h.Floor.Mesh {
		hourly("tray.in", 1, func(t time.Time) float64 { return one(h.Floor.TrayOn(t)) })
	}
	if b := h.TopBoard; b != nil && b.Hole > 0 {
		hourly("board.open", 1, func(t time.Time) float64 { return one(b.HoleOn(t) > 0) })
	}
}

func one(is bool) float64 {
	if is {
		return 1
	}
	return 0
}

// Hive is the hive of the run.
func (y *Year) Hive() hive.Hive { return y.hive.Clone() }

// Hours is how many there are.
func (y *Year) Hours() int { return y.hours }

// Time is the beginning of an hour.
func (y *Year) Time(hour int) time.Time { return y.start.Add(time.Duration(hour) * time.Hour) }

// Hour is the hour that holds a moment, the nearest one when it lies outside the
// run.
func (y *Year) Hour(at time.Time) int {
	return min(max(int(math.Floor(at.Sub(y.start).Hours())), 0), y.hours-1)
}

// Value is a channel at an hour; ok is false when the run has none of that name.
func (y *Year) Value(name string, hour int) (v float64, ok bool) {
	i, ok := y.index[name]
	if !ok || hour < 0 || hour >= y.hours {
		return 0, false
	}
	return y.list[i].at(hour), true
}

// Daily returns the mean of a channel over every whole day of the run, nil when
// there is no such channel. A strip of the year needs no more.
func (y *Year) Daily(name string) []float64 {
	i, ok := y.index[name]
	if !ok {
		return nil
	}
	out := make([]float64, 0, y.hours/24+1)
	for h := 0; h < y.hours; h += 24 {
		sum, n := 0.0, min(24, y.hours-h)
		for j := range n {
			sum += y.list[i].at(h + j)
		}
		out = append(out, sum/float64(n))
	}
	return out
}

// value of a channel that may be lacking, 0 then.
func (y *Year) value(name string, hour int) float64 { v, _ := y.Value(name, hour); return v }

// compact is the form in which a year travels.
type compact struct {
	Version  int              `json:"version"`
	Hive     string           `json:"hive"`
	Start    time.Time        `json:"start"`
	Hours    int              `json:"hours"`
	Low      int              `json:"scale_low_C"`
	High     int              `json:"scale_high_C"`
	Slabs    [][2]float64     `json:"slabs_m"`
	Columns  []string         `json:"columns"`
	Channels []compactSeries  `json:"channels"`
	Moves    map[string]moves `json:"moves"`
}

type compactSeries struct {
	Name   string `json:"name"`
	Unit   string `json:"unit"`
	Per    int    `json:"per"`
	First  int    `json:"first"`
	Bytes  int    `json:"bytes"` // of one value: 0 (all are the first), 1 or 2, the lower byte first
	Values string `json:"values,omitempty"`
}

// MarshalJSON writes the year for a script that moves its picture. See
// docs/cutaway.md.
func (y *Year) MarshalJSON() ([]byte, error) {
	c := compact{Version: 1, Hive: y.hive.Name, Start: y.start, Hours: y.hours, Low: scaleLow, High: scaleHigh, Columns: y.columns, Moves: map[string]moves{}}
	for _, s := range y.slabs {
		c.Slabs = append(c.Slabs, [2]float64{milli(s.Bottom), milli(s.Top)})
	}
	for _, s := range Sections() {
		c.Moves[string(s)] = newScene(&y.hive, y, s).moves
	}
	for i := range y.list {
		s := &y.list[i]
		out := compactSeries{Name: s.name, Unit: s.unit, Per: s.per, First: s.first}
		most := slices.Max(s.values)
		var b []byte
		switch {
		case most == 0:
		case most < 256:
			out.Bytes = 1
			for _, v := range s.values {
				b = append(b, byte(v))
			}
		default:
			out.Bytes = 2
			for _, v := range s.values {
				b = append(b, byte(v), byte(v>>8))
			}
		}
		out.Values = base64.StdEncoding.EncodeToString(b)
		c.Channels = append(c.Channels, out)
	}
	return json.Marshal(c)
}

func milli(x float64) float64 { return math.Floor(x*1000+0.5) / 1000 }

// has reports whether any channel begins so.
func (y *Year) has(prefix string) bool {
	return slices.ContainsFunc(y.list, func(s series) bool { return strings.HasPrefix(s.name, prefix) })
}

// openShare is how much of an opening's width is open on a day.
func openShare(o hive.Opening, date time.Time) float64 {
	if o.Width <= 0 {
		return 0
	}
	return min(1, o.WidthOn(date)/o.Width)
}
