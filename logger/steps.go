package logger

import (
	"math"
	"slices"
)

// Step is a sudden lasting change of a scale: a super or box put on or taken off,
// feed, harvest, a swarm; not what bees carry in or eat.
type Step struct {
	From, To int64   // last reading before it and first after it, Unix time [s]
	Delta    float64 // [kg]
}

// Guess says what a step may have been. Only the keeper knows.
func (s Step) Guess() string {
	switch {
	case s.Delta > 0:
		return "something put on: a super, a box or feed"
	case s.Delta > -4:
		return "something taken off, or a swarm that left"
	}
	return "something taken off: a super, a box or honey"
}

// StepOptions say what counts as a step. The zero value takes the defaults.
type StepOptions struct {
	Least float64 // smallest step; 0: 1.5 kg [kg]
	Rate  float64 // fastest change that bees and weather can make; 0: 0.6 kg/h [kg/h]
}

// Steps finds the steps of a scale in readings that rise in time, and returns the
// weight without them: each step's change is taken off all that follows, readings
// while a hive was lifted are left out. What is left is what bees and weather did.
//
// Readings are held against those around them: medians of up to six within two
// hours on each side. A change counts when it is larger than Least plus Rate times
// the time between the readings beside it, so that a log with a reading every
// twelve hours shows only steps over 8.7 kg. Limits are judgement, no source; the
// measured hives of the docs had steps of 1.5 kg and more removed.
func Steps(readings []Reading, o StepOptions) ([]Step, []Reading) {
	if o.Least == 0 {
		o.Least = 1.5
	}
	if o.Rate == 0 {
		o.Rate = 0.6
	}
	const (
		beside    = 6    // readings whose median is a level
		besideFor = 7200 // [s]
		calm      = 3600 // an episode ends when nothing moved for so long [s]
	)
	var steps []Step
	var net []Reading
	shift := 0.0
	allowed := func(a, b Reading) float64 {
		return o.Least + o.Rate*float64(b.At-a.At)/3600
	}
	level := func(from, step int, limit int64) (float64, bool) {
		var v []float64
		start := readings[from].At
		for i := from; i >= 0 && i < len(readings) && len(v) < beside; i += step {
			if abs(readings[i].At-start) > limit {
				break
			}
			v = append(v, readings[i].Value)
		}
		if len(v) == 0 {
			return 0, false
		}
		slices.Sort(v)
		return (v[(len(v)-1)/2] + v[len(v)/2]) / 2, true
	}
	for i := 0; i < len(readings); {
		if i+1 == len(readings) || math.Abs(readings[i+1].Value-readings[i].Value) <= allowed(readings[i], readings[i+1])/2 {
			net = append(net, Reading{readings[i].At, readings[i].Value - shift})
			i++
			continue
		}
		// An episode: from the last calm reading to the first after which it is calm.
		a, b := i, i+1
		for j := b; j+1 < len(readings) && readings[j].At-readings[b].At <= calm; j++ {
			if math.Abs(readings[j+1].Value-readings[j].Value) > allowed(readings[j], readings[j+1])/2 {
				b = j + 1
			}
		}
		before, _ := level(a, -1, besideFor)
		after, _ := level(b, 1, besideFor)
		net = append(net, Reading{readings[a].At, readings[a].Value - shift})
		if delta := after - before; math.Abs(delta) > allowed(readings[a], readings[b]) {
			steps = append(steps, Step{readings[a].At, readings[b].At, delta})
			shift += delta
		} else if b == a+1 && b+1 < len(readings) {
			// No step, no lift: an ordinary change between two readings.
			i = b
			continue
		}
		i = b
	}
	return steps, net
}

func abs(v int64) int64 {
	if v < 0 {
		return -v
	}
	return v
}

// Doubt is a span of readings that cannot be right, or hardly.
type Doubt struct {
	From, To int64 // Unix time [s]
	Readings int
	What     string
	LeftOut  bool
}

// Clean leaves out what is not a reading: single values that stand far off from
// both neighbours, as a failed reading averaged into good ones makes, and humidity
// that says 100 % for two days and more, which is a wet sensor. A value that stays
// the same to the last digit for three days is reported and kept. Readings must rise
// in time.
func Clean(q Quantity, readings []Reading) ([]Reading, []Doubt) {
	const (
		near     = 3 * 3600 // neighbours further off say nothing [s]
		wetFor   = 48 * 3600
		wetAbove = 0.995
		stuckFor = 72 * 3600
		fewest   = 30
	)
	jump := quantities[q].jump
	var doubts []Doubt
	kept := make([]Reading, 0, len(readings))
	spikes := Doubt{What: "single values far off from their neighbours", LeftOut: true}
	for i, r := range readings {
		if i > 0 && i+1 < len(readings) {
			a, b := readings[i-1], readings[i+1]
			da, db := r.Value-a.Value, r.Value-b.Value
			if r.At-a.At <= near && b.At-r.At <= near && math.Abs(da) > jump && math.Abs(db) > jump && da*db > 0 && math.Abs(a.Value-b.Value) < jump/2 {
				if spikes.Readings == 0 {
					spikes.From = r.At
				}
				spikes.To = r.At
				spikes.Readings++
				continue
			}
		}
		kept = append(kept, r)
	}
	if spikes.Readings > 0 {
		doubts = append(doubts, spikes)
	}
	out := kept[:0]
	for i := 0; i < len(kept); {
		j := i + 1
		wet := q == Humidity && kept[i].Value >= wetAbove
		for j < len(kept) && (wet && kept[j].Value >= wetAbove || !wet && kept[j].Value == kept[i].Value) {
			j++
		}
		span := kept[j-1].At - kept[i].At
		switch {
		case wet && span >= wetFor && j-i >= fewest:
			doubts = append(doubts, Doubt{kept[i].At, kept[j-1].At, j - i, "humidity at 100 % throughout: a wet sensor", true})
		case !wet && span >= stuckFor && j-i >= fewest:
			doubts = append(doubts, Doubt{kept[i].At, kept[j-1].At, j - i, "the same value to the last digit", false})
			out = append(out, kept[i:j]...)
		default:
			out = append(out, kept[i:j]...)
		}
		i = j
	}
	return out, doubts
}
