package cutaway

import (
	"fmt"
	"strconv"
	"strings"

	"hackle/quantity"
)

// DrawApart draws how much warmer or colder air and combs of one hive are than those
// of another at the same height and in the same column, each in its own hour. The
// hive drawn is y; what lies above the other's inside is held against its topmost
// air. Numbers stand beside the colours, so that nothing hangs on colour alone.
func (y *Year) DrawApart(hour int, from *Year, fromHour int, o Options) ([]byte, error) {
	if hour < 0 || hour >= y.hours {
		return nil, fmt.Errorf("cutaway: hour %d, accepted: 0 to %d", hour, y.hours-1)
	}
	if from == nil || fromHour < 0 || fromHour >= from.hours {
		return nil, fmt.Errorf("cutaway: the hour to compare with, %d, is not in its run", fromHour)
	}
	d := drawing{scene: newScene(&y.hive, y, o.Section), options: o, year: y, hour: hour, date: y.Time(hour), apartFrom: newScene(&from.hive, from, o.Section), apartYear: from, apartHour: fromHour}
	d.moves.Ball, d.moves.Combs, d.moves.Marks, d.moves.Crowds, d.moves.Flows, d.moves.Tones = nil, nil, nil, nil, nil, nil
	return d.draw(), nil
}

// apart is the difference of a stop of a field; ok is false where the other hive has
// no such air or comb.
func (d *drawing) apart(f fieldMove, stop int) (dt float64, ok bool) {
	s := d.year.slabs[stop]
	was, ok := d.apartYear.fieldTemp(&d.apartFrom.moves, f.Of, f.Column, f.Core, (s.Bottom+s.Top)/2, d.apartHour)
	return d.year.fieldAt(f, stop, d.hour) - was, ok
}

// apartNumbers writes differences down the middle of the core and at the outer
// combs, every 80 mm or so.
func (d *drawing) apartNumbers() {
	last := -1e9
	for k, s := range d.year.slabs {
		mid := (s.Bottom + s.Top) / 2 * mm
		if mid-last < 80*d.letter() && k > 0 {
			continue
		}
		last = mid
		write := func(x float64, field string) {
			for _, f := range d.moves.Fields {
				if f.ID != field {
					continue
				}
				if dt, ok := d.apart(f, k); ok {
					text := kelvin(dt, d.options.Units)
					d.printf("<rect class=\"plate\" x=\"%s\" y=\"%s\" width=\"%s\" height=\"%s\" rx=\"3\"/><text class=\"middle\" x=\"%s\" y=\"%s\">%s</text>\n", num(x-24*d.letter()), num(-mid-10*d.letter()), num(48*d.letter()), num(20*d.letter()), num(x), num(-mid+4.5*d.letter()), text)
				}
			}
		}
		write((d.core[0]+d.core[1])/2, "a"+strconv.Itoa(d.steps()))
		if d.core[0]-d.span[0] > 60*d.letter() && d.steps() > 0 {
			write((d.core[0]+d.span[0])/2, "a0")
		}
	}
}

// kelvin writes a difference with its sign.
func kelvin(dt float64, u quantity.System) string {
	if u == quantity.US {
		dt *= 1.8
	}
	text := strconv.FormatFloat(dt, 'f', 1, 64)
	switch {
	case text == "0.0" || text == "-0.0":
		return "0.0"
	case dt > 0:
		return "+" + text
	}
	return "−" + strings.TrimPrefix(text, "-")
}

func (d *drawing) apartLegend() {
	x0, w := d.scalePlace()
	y := d.ground + legendDrop*d.letter()
	per := w / shifts
	for i := range shifts {
		d.printf("<rect class=\"d%d\" x=\"%s\" y=\"%s\" width=\"%s\" height=\"%s\"/>", i, num(x0+float64(i)*per), num(y), num(per+0.8), num(legendTall))
	}
	d.printf("\n<rect class=\"frame\" x=\"%s\" y=\"%s\" width=\"%s\" height=\"%s\"/>\n", num(x0), num(y), num(w), num(legendTall))
	most, step, unit := 8, 4, " K"
	per *= 4
	if d.options.Units == quantity.US {
		most, step, unit, per = 14, 7, " °F", per/1.8
	}
	for t := -most; t <= most; t += step {
		label := strings.Replace(fmt.Sprintf("%+d", t), "-", "−", 1)
		switch t {
		case 0:
			label = "0"
		case most:
			label += unit
		}
		x := x0 + w/2 + float64(t)*per
		d.printf("<path class=\"measure\" d=\"M%s %sv4\"/><text class=\"small middle\" x=\"%s\" y=\"%s\">%s</text>\n", num(x), num(y+legendTall), num(x), num(y+legendTall+19*d.letter()), label)
	}
}
