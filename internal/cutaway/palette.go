package cutaway

import (
	"fmt"
	"math"
)

// The ends of the temperature scale. It is the same in every picture, so that a
// colour means one temperature; what lies beyond takes the colour of the end. [°C]
const (
	scaleLow  = -20
	scaleHigh = 45
)

// tones is how many colours the scale has: one for each degree.
const tones = scaleHigh - scaleLow + 1

// tone is the colour of a temperature.
func tone(t float64) int {
	return int(math.Floor(min(max(t, scaleLow), scaleHigh) - scaleLow + 0.5))
}

// Differences between two states have a scale of their own, from colder to warmer
// by a quarter of a kelvin. [K]
const (
	shiftMost = 8
	shifts    = 8*shiftMost + 1
)

// shift is the colour of a difference.
func shift(dt float64) int {
	return int(math.Floor((min(max(dt, -shiftMost), shiftMost)+shiftMost)*4 + 0.5))
}

// knot is a place that the path of a palette passes: lightness, chroma and hue of
// the OKLab space.
type knot struct{ lightness, chroma, hue float64 }

// On paper cold is pale and warmth deepens, as a wash laid over and over; on a dark
// ground warmth glows. Either way lightness alone tells the order, for every kind
// of colour vision and in grey.
func paperPath() []knot {
	return []knot{{0.925, 0.045, 238}, {0.880, 0.016, 160}, {0.830, 0.062, 90}, {0.745, 0.115, 72}, {0.620, 0.140, 50}, {0.465, 0.135, 30}}
}

func nightPath() []knot {
	return []knot{{0.235, 0.045, 255}, {0.345, 0.040, 245}, {0.445, 0.018, 160}, {0.545, 0.062, 88}, {0.680, 0.115, 76}, {0.840, 0.130, 76}}
}

// Two arms from the ground of the page: blue where it is colder, ochre where it is
// warmer. Strength tells how much; blue and ochre stay apart for every kind of
// colour vision, and in grey the numbers in the picture tell the sign.
func paperApart() []knot {
	return []knot{{0.43, 0.115, 254}, {0.66, 0.095, 240}, {0.965, 0.008, 85}, {0.70, 0.118, 62}, {0.46, 0.125, 42}}
}

func nightApart() []knot {
	return []knot{{0.80, 0.100, 240}, {0.53, 0.095, 246}, {0.235, 0.006, 85}, {0.52, 0.105, 66}, {0.82, 0.125, 74}}
}

// palette walks a path in equal strides of OKLab and gives the colour at each as
// sRGB in hexadecimal.
func palette(path []knot, count int) []string {
	const fine = 400
	var way [][3]float64
	for i := 0; i+1 < len(path); i++ {
		for j := range fine {
			f := float64(j) / fine
			way = append(way, onPath(path[i], path[i+1], f))
		}
	}
	way = append(way, onPath(path[len(path)-1], path[len(path)-1], 0))
	length := make([]float64, len(way))
	for i := 1; i < len(way); i++ {
		length[i] = length[i-1] + apart(way[i], way[i-1])
	}
	out := make([]string, count)
	at := 0
	for i := range out {
		want := length[len(length)-1] * float64(i) / float64(count-1)
		for at+1 < len(length) && length[at+1] <= want {
			at++
		}
		out[i] = hex(way[at])
	}
	return out
}

// onPath is the colour between two knots as OKLab.
func onPath(a, b knot, f float64) [3]float64 {
	p, q := a.lab(), b.lab()
	for i := range p {
		p[i] += f * (q[i] - p[i])
	}
	return p
}

func (k knot) lab() [3]float64 {
	return [3]float64{k.lightness, k.chroma * math.Cos(k.hue*math.Pi/180), k.chroma * math.Sin(k.hue*math.Pi/180)}
}

func apart(a, b [3]float64) float64 {
	return math.Sqrt((a[0]-b[0])*(a[0]-b[0]) + (a[1]-b[1])*(a[1]-b[1]) + (a[2]-b[2])*(a[2]-b[2]))
}

// hex turns OKLab into sRGB by the matrices of the definition of OKLab (2020, from
// memory), which CSS Color Module Level 4 repeats.
func hex(lab [3]float64) string {
	l := cube(lab[0] + 0.3963377774*lab[1] + 0.2158037573*lab[2])
	m := cube(lab[0] - 0.1055613458*lab[1] - 0.0638541728*lab[2])
	s := cube(lab[0] - 0.0894841775*lab[1] - 1.2914855480*lab[2])
	channel := func(x float64) int {
		if x <= 0.0031308 {
			x *= 12.92
		} else {
			x = 1.055*math.Pow(x, 1/2.4) - 0.055
		}
		return int(math.Round(255 * min(max(x, 0), 1)))
	}
	return fmt.Sprintf("#%02x%02x%02x",
		channel(4.0767416621*l-3.3077115913*m+0.2309699292*s),
		channel(-1.2684380046*l+2.6097574011*m-0.3413193965*s),
		channel(-0.0041960863*l-0.7034186147*m+1.7076147010*s))
}

func cube(x float64) float64 { return x * x * x }

// Tone is the number of the class that colours a temperature: "t0" and so on in
// [Style].
func Tone(t float64) int { return tone(t) }
