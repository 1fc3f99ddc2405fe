package airflow

import "math"

// WindPressure returns cp density speed²/2 [Pa] for a pressure coefficient [-], the
// outdoor density [kg/m³] and the wind speed at the height of the box [m/s].
func WindPressure(cp, density, speed float64) float64 { return cp * density * speed * speed / 2 }

// Exposure tells what stands round a box.
type Exposure int

const (
	Exposed     Exposure = iota // open ground
	SemiExposed                 // surrounded by things half as high as the box
	Sheltered                   // surrounded by things as high as the box
)

// Faces of a box, in the order of SurfaceCoefficients. Left and right are seen by
// somebody who stands behind the box and looks its way.
const (
	FaceFront = iota
	FaceBack
	FaceLeft
	FaceRight
	FaceTop
	Faces // their number
)

// faceTable holds averaged pressure coefficients by exposure: a wall by the angle
// between its outward normal and the wind (0, 45, 90, 135, 180°), and a flat
// top.
//
// Source: "Air Infiltration Calculation Techniques - An Applications Guide",
// Air Infiltration and Ventilation Centre, 1986, tables of wind pressure
// coefficients for low-rise buildings, plan 1:1; again in "A Guide to Energy
// Efficient Ventilation", 1996 (from memory). The value of a flat top is the mean
// over the two halves of a roof below 10° and over both directions of its ridge.
var faceTable = [3]struct {
	wall [5]float64
	top  float64
}{
	Exposed:     {wall: [5]float64{0.7, 0.35, -0.5, -0.4, -0.2}, top: -0.6},
	SemiExposed: {wall: [5]float64{0.4, 0.1, -0.3, -0.35, -0.2}, top: -0.5},
	Sheltered:   {wall: [5]float64{0.2, 0.05, -0.25, -0.3, -0.25}, top: -0.45},
}

// SurfaceCoefficients returns the mean wind pressure coefficients [-] of a low,
// roughly square box by face: front, back, left, right, top. angle is where
// the wind comes from against where the front looks, clockwise seen from above
// [deg]: 0 blows on the front, 90 on the right, 270 on the left. Walls are
// linear between 45° steps.
//
// The values are averages over walls of buildings up to three storeys, for the
// wind speed at the height of the box; they are mostly within 0.2 of
// measurements. Nothing published was found for the underside of a raised box. An
// exposure outside the list counts as Sheltered.
func SurfaceCoefficients(exposure Exposure, angle float64) [Faces]float64 {
	if exposure < Exposed || exposure > Sheltered {
		exposure = Sheltered
	}
	t := &faceTable[exposure]
	wall := func(offNormal float64) float64 {
		a := math.Abs(math.Remainder(offNormal, 360)) / 45
		i := max(0, min(int(a), 3)) // an angle that is not a number gives NaN
		return t.wall[i] + (a-float64(i))*(t.wall[i+1]-t.wall[i])
	}
	return [Faces]float64{
		FaceFront: wall(angle),
		FaceBack:  wall(angle - 180),
		FaceLeft:  wall(angle - 270),
		FaceRight: wall(angle - 90),
		FaceTop:   t.top,
	}
}
