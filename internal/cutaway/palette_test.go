package cutaway

import (
	"fmt"
	"math"
	"strconv"
	"testing"
)

// rgb reads a colour as linear light.
func rgb(t *testing.T, hex string) (out [3]float64) {
	t.Helper()
	for i := range out {
		n, err := strconv.ParseInt(hex[1+2*i:3+2*i], 16, 32)
		if err != nil {
			t.Fatal(err)
		}
		v := float64(n) / 255
		if v <= 0.04045 {
			out[i] = v / 12.92
		} else {
			out[i] = math.Pow((v+0.055)/1.055, 2.4)
		}
	}
	return out
}

// lab is CIE 1976 L*a*b* of linear sRGB by the matrix of IEC 61966-2-1 and the
// white D65 (both from memory): another space than that which made the palette.
func lab(c [3]float64) [3]float64 {
	x := (0.4124*c[0] + 0.3576*c[1] + 0.1805*c[2]) / 0.9505
	y := 0.2126*c[0] + 0.7152*c[1] + 0.0722*c[2]
	z := (0.0193*c[0] + 0.1192*c[1] + 0.9505*c[2]) / 1.089
	f := func(t float64) float64 {
		if t > 216.0/24389 {
			return math.Cbrt(t)
		}
		return (24389.0/27*t + 16) / 116
	}
	return [3]float64{116*f(y) - 16, 500 * (f(x) - f(y)), 200 * (f(y) - f(z))}
}

// Colour vision that lacks a kind of cone: A physiologically-based model for
// simulation of color vision deficiency, IEEE Trans. Vis. Comput. Graph. 15 (2009),
// doi:10.1109/TVCG.2009.113, matrices of severity 1 (from memory).
var visions = map[string][3][3]float64{
	"full":         {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}},
	"protanopia":   {{0.152286, 1.052583, -0.204868}, {0.114503, 0.786281, 0.099216}, {-0.003882, -0.048116, 1.051998}},
	"deuteranopia": {{0.367322, 0.860646, -0.227968}, {0.280085, 0.672501, 0.047413}, {-0.011820, 0.042940, 0.968881}},
	"tritanopia":   {{1.255528, -0.076749, -0.178779}, {-0.078411, 0.930809, 0.147602}, {0.004733, 0.691367, 0.303900}},
	"grey":         {{0.2126, 0.7152, 0.0722}, {0.2126, 0.7152, 0.0722}, {0.2126, 0.7152, 0.0722}},
}

// Temperature is told by lightness alone, in one direction and by steps that can be
// told apart, whatever the reader's colour vision; and ten degrees look about as
// far apart wherever they lie on the scale.
func TestPalette(t *testing.T) {
	for name, path := range map[string][]knot{"paper": paperPath(), "night": nightPath()} {
		colours := palette(path, tones)
		if len(colours) != tones {
			t.Fatalf("%s: %d colours", name, len(colours))
		}
		sign := 1.0
		if name == "paper" {
			sign = -1
		}
		for vision, m := range visions {
			var all [][3]float64
			for _, c := range colours {
				v := rgb(t, c)
				var seen [3]float64
				for i := range seen {
					seen[i] = min(max(m[i][0]*v[0]+m[i][1]*v[1]+m[i][2]*v[2], 0), 1)
				}
				all = append(all, lab(seen))
			}
			least, most := math.Inf(1), 0.0
			for i := 10; i < len(all); i++ {
				if d := sign * (all[i][0] - all[i-10][0]); d < 2 {
					t.Errorf("%s seen with %s: lightness changes by %.1f over the ten degrees up to %d °C", name, vision, d, i+scaleLow)
				}
				d := apart(all[i], all[i-10])
				least, most = min(least, d), max(most, d)
			}
			if vision == "full" && most > 2.2*least {
				t.Errorf("%s: ten degrees differ by %.1f to %.1f", name, least, most)
			}
			if vision == "full" {
				t.Log(name, fmt.Sprintf("ten degrees differ by %.1f to %.1f of CIELAB", least, most))
			}
		}
	}
	if tone(-60) != 0 || tone(99) != tones-1 || tone(0) != -scaleLow || tone(0.4) != tone(-0.4) {
		t.Error("a temperature has a wrong colour")
	}
}

// Colder and warmer by the same amount stay apart, and more is told from less, for
// every kind of colour vision; in grey the numbers of the picture tell the sign.
func TestPaletteOfDifferences(t *testing.T) {
	for name, path := range map[string][]knot{"paper": paperApart(), "night": nightApart()} {
		colours := palette(path, shifts)
		for vision, m := range visions {
			var all [][3]float64
			for _, c := range colours {
				v := rgb(t, c)
				var seen [3]float64
				for i := range seen {
					seen[i] = min(max(m[i][0]*v[0]+m[i][1]*v[1]+m[i][2]*v[2], 0), 1)
				}
				all = append(all, lab(seen))
			}
			mid := shift(0)
			for by := 8; by <= mid; by += 4 {
				if d := apart(all[mid-by], all[mid+by]); vision != "grey" && d < 12 {
					t.Errorf("%s seen with %s: %g K colder and warmer differ by %.1f", name, vision, float64(by)/4, d)
				}
				if a, b := apart(all[mid-by], all[mid]), apart(all[mid+by], all[mid]); a < 5 || b < 5 {
					t.Errorf("%s seen with %s: %g K differs from none by %.1f and %.1f", name, vision, float64(by)/4, a, b)
				}
			}
		}
	}
}
