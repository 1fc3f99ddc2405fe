package hive

import (
	"math"

	"hackle/material"
)

// AirGap is the name of the material that stands for an unventilated layer of air
// inside a wall, lid, floor or wrap.
const AirGap = "air gap"

// IsAirGap reports whether a layer is still air between two others.
func (l Layer) IsAirGap() bool { return l.Material.Name == AirGap && l.Resistance == 0 }

// SettleAirGaps gives every air gap of the hive the conductivity that makes its
// resistance that of EN ISO 6946 for its thickness, its lie and the two faces it
// lies between: foil on one of them holds back the radiation that is half of what
// crosses a gap. It is 10 °C warm, with a difference of 5 K. Heat is taken to flow up
// through lids and boards, which is the lesser resistance, down through floors,
// sideways elsewhere. Reading a file does this; call it after layers were changed.
func (h *Hive) SettleAirGaps() {
	for i := range h.Bodies {
		for f := range h.Bodies[i].Walls {
			settleAirGaps(h.Bodies[i].Walls[f], material.Horizontal)
		}
	}
	settleAirGaps(h.Floor.Layers, material.Down)
	settleAirGaps(h.Lid.Layers, material.Up)
	if h.TopBoard != nil {
		settleAirGaps(h.TopBoard.Layers, material.Up)
	}
	for i := range h.Followers {
		settleAirGaps(h.Followers[i].Layers, material.Horizontal)
	}
	for i := range h.Wraps {
		direction := material.Horizontal
		if len(h.Wraps[i].Faces) == 1 {
			switch h.Wraps[i].Faces[0] {
			case Top:
				direction = material.Up
			case Bottom:
				direction = material.Down
			}
		}
		settleAirGaps(h.Wraps[i].Layers, direction)
	}
}

func settleAirGaps(layers []Layer, direction material.Direction) {
	for i := range layers {
		l := &layers[i]
		if !l.IsAirGap() {
			continue
		}
		face := func(k int) float64 {
			const usual = 0.9 // building surfaces, and the wall that a wrap lies on
			if k < 0 || k >= len(layers) || !(layers[k].Material.Emissivity > 0) {
				return usual
			}
			return layers[k].Material.Emissivity
		}
		r := material.AirLayerResistanceOf(l.Thickness, direction, face(i-1), face(i+1), 10, 5)
		if r > 0 && !math.IsNaN(r) {
			l.Material.Conductivity = l.Thickness / r
		}
	}
}
