// Package hive describes a bee hive as a keeper builds it: bodies, walls in
// layers, lid, floor, openings, frames, and what a file says of its colony and
// site. It holds plain data; the physics lives in other packages.
//
// Lengths are metres, masses kilograms, temperatures degrees Celsius. Heights
// are measured from the inner face of the floor upward. Front is the side with
// the main entrance, Left and Right are seen by somebody who stands behind the
// hive and looks out of it.
package hive

import (
	"time"

	"hackle/material"
)

// Face names a side of the hive.
type Face int

// The six faces. The first four are upright and index [4]-arrays.
const (
	Front Face = iota
	Back
	Left
	Right
	Top
	Bottom
)

// Hive is one hive as built, without bees.
type Hive struct {
	Name string // free text shown to people
	Type string // preset it started from, for example "stacked-10"

	Bodies   []Body    // from the floor upward; at least one
	Floor    Floor     //
	TopBoard *TopBoard // board on the top bars, nil when the lid lies on the bodies
	Lid      Lid       //

	Openings  []Opening  // every hole a bee or air can pass, beside Floor.Mesh and TopBoard.Hole
	Followers []Follower // boards that close off part of a body, usually none or one
	Wraps     []Wrap     // outer coats put on and taken off by date

	// LeakArea is the effective leakage area of joints at 4 Pa and discharge
	// coefficient 1, per metre of joint between parts. [m²/m]
	LeakArea float64

	FrontAzimuth float64 // direction the front looks to, clockwise from north [deg]
	Tilt         float64 // forward tilt, front lower than back [deg]
	StandHeight  float64 // underside of the floor above ground [m]

	Finish Finish // outer surface of all faces that do not name their own
	// InsideCoat is what propolis, wax or paint on the inner faces resists vapour, as
	// metres of still air; 0: bare. [m]
	InsideCoat float64
}

// Body is one box of the hive. A long hive has exactly one.
type Body struct {
	Name   string
	Box    string     // preset box it started from, for example "deep"; empty: none
	Length float64    // inside, along the frames (front to back when Turned is false) [m]
	Width  float64    // inside, across the frames [m]
	Height float64    // [m]
	Walls  [4][]Layer // indexed by Front, Back, Left, Right; each from outside to inside
	// Turned is true when the frames hang parallel to the front wall. Length
	// stays the inside measure along the frames and so runs left to right.
	Turned bool
	Frames Frames // Count 0: a box without comb
	// TopSpace is the free height between the frames' top bars and the upper
	// edge of the body. What is left below the frames is BottomSpace. [m]
	TopSpace float64
}

// Frames describes the frames or bars of one body.
type Frames struct {
	Count         int     //
	Length        float64 // outer length of the frame without its lugs [m]
	Depth         float64 // outer depth of the frame [m]
	TopBar        float64 // length with lugs [m]
	Pitch         float64 // centre to centre [m]
	CombThickness float64 // with capped honey or brood [m]
	DrawnShare    float64 // share of the frames that hold built comb, 0 to 1 [-]
	Bars          bool    // top bars without side and bottom bars
	Support       Support // what carries the comb in heat
	CombAge       CombAge //
	HoneyPerFrame float64 // honey in one completely filled frame [kg]
}

// Support is the pattern that carries a comb inside its frame.
type Support string

// Support patterns of the trade.
const (
	SupportNone      Support = "none"
	SupportUpright   Support = "upright wires"
	SupportLevel     Support = "level wires"
	SupportCrossed   Support = "crossed wires"
	SupportSticks    Support = "sticks"
	SupportStiffCore Support = "stiff foundation"
)

// CombAge tells wax that has held brood from fresh wax.
type CombAge string

// Ages of comb.
const (
	CombFresh CombAge = "fresh"
	CombBrood CombAge = "brood"
)

// Layer is one sheet of a wall, lid or floor. Either Thickness and a material
// with a conductivity, or Resistance (then Thickness only takes room).
type Layer struct {
	Material   material.Material
	Thickness  float64 // [m]
	Resistance float64 // thermal resistance when given directly, else 0 [m²·K/W]
}

// Finish is the look of an outer surface to sun and sky.
type Finish struct {
	Name             string
	SolarAbsorptance float64 // [-]
	Emissivity       float64 // long wave [-]
}

// Floor is the bottom of the hive.
type Floor struct {
	Layers []Layer // outside (below) to inside; for a mesh floor, the layers of the tray
	Mesh   bool    // insect mesh in place of a board
	// MeshArea is the free area of the mesh, wires deducted. [m²]
	MeshArea float64
	// Tray is true while a tray below the mesh closes it; see TrayEvents.
	Tray       bool
	TrayEvents []Switch
	// Depth is the height of the floor's rim: from its inner face to the lower
	// edge of the lowest body. Hive.FloorSpace adds the room below the frames. [m]
	Depth float64
}

// Switch turns something on or off from a day on.
type Switch struct {
	From Day
	On   bool
}

// TopBoard is the board under the lid: inner cover, crown board or cloth.
type TopBoard struct {
	Layers []Layer // outside (above) to inside
	// Hole is the free area through the board into the lid's space, 0 for none. [m²]
	Hole       float64
	HoleEvents []Switch // nil: always as Hole says
	// Space is the free height below the board inside its rim, as bodies with
	// bottom bee space need it. It counts into Hive.Height. [m]
	Space float64
	// Porous boards (cloth, quilt of shavings) let air seep: permeability of
	// the whole thickness as Darcy permeance, volume flow per area and
	// pressure, 0 for tight. [m³/(s·m²·Pa)]
	Permeance float64
}

// Lid is the roof with its insulation.
type Lid struct {
	Layers []Layer // outside (above) to inside
	// Space is the height of the air space between top board (or top bars) and
	// the lowest layer of the lid, 0 for none. [m]
	Space float64
	// Vents is the free area that joins that space with outdoors, 0 for sealed. [m²]
	Vents  float64
	Finish *Finish // outer skin, nil: the hive's Finish
	Rim    float64 // depth by which the lid reaches down over the bodies [m]
}

// Shape of an opening.
type Shape string

// Shapes. A slot is Width by Height, a round hole has diameter Width = Height.
const (
	Slot  Shape = "slot"
	Round Shape = "round"
)

// Opening is a hole through one wall at a height. It may repeat (Count).
type Opening struct {
	Name   string
	Face   Face
	Sill   float64 // lower edge above the inner face of the floor [m]
	Width  float64 // of one hole [m]
	Height float64 // of one hole; diameter when round [m]
	Shape  Shape
	Count  int     // equal holes side by side, at least 1
	Offset float64 // centre of the group from the middle of the face, positive to the right seen from outside [m]
	Depth  float64 // length of the passage through the wall [m]
	// Discharge coefficient of the edge, 0 for the default. [-]
	Discharge float64
	// MeshShare is the free share of a mesh or guard over the hole, 0 or 1 for none. [-]
	MeshShare float64
	// Schedule sets the open share from days on; before the first entry of a
	// year the last one holds. Empty: always fully open.
	Schedule []OpeningState
}

// OpeningState is the state of an opening from a day on.
type OpeningState struct {
	From Day
	// Width is the open width of one hole, 0 when closed. [m]
	Width float64
}

// Follower is an upright board parallel to the frames that shuts bees off from
// the space beyond it.
type Follower struct {
	Body   int     // index into Bodies
	Frames int     // number of frames on the bees' side
	Side   Face    // Left or Right (Front or Back when the body is Turned): where the beyond space lies
	Layers []Layer // colony side last
	Gap    float64 // free gap round the edge; bees and air may pass under or beside [m]
}

// Wrap is a coat of layers over faces, on between two days of every year.
type Wrap struct {
	Name   string
	Faces  []Face
	Layers []Layer // outside to inside; they go outside the wall's own
	On     Day
	Off    Day
	Finish *Finish // outer look while it is on, nil: unchanged
}

// Day is a calendar day, of every year when Year is 0.
type Day struct {
	Year  int
	Month time.Month
	Day   int
}

// IsZero reports whether d was never set.
func (d Day) IsZero() bool { return d.Month == 0 }

// Colony is what the keeper says of the bees. Zero values mean "use the
// default for the place and season" as package colony documents.
type Colony struct {
	Bees       float64 // mass of adult bees on Date [kg]
	Date       Day     // day that Bees and Honey were true, zero: start of the run
	Honey      float64 // capped honey and ripe syrup in the hive on Date [kg]
	BroodStart Day     // first eggs of the new year
	BroodPeak  float64 // brood cells at the height of the season [-]
	ClusterAt  float64 // height of the cluster's middle above the floor on Date, 0: default [m]
	Feeds      []Feed
	Flows      []Flow
	WaterNear  float64 // distance to open water, 0: unknown [m]
}

// Flow is a time of the year in which flowers give nectar.
type Flow struct {
	From, To Day
	Nectar   float64 // what a strong colony carries in on a full flying day [kg]
	Sugar    float64 // sugar in the nectar by mass, 0 to 1 [-]
}

// Feed is food given on a day, counted as ripe stores.
type Feed struct {
	Day   Day
	Kind  string  // "syrup", "fondant", "frame"
	Honey float64 // what it adds as ripe stores at 17.5 % water [kg]
}

// Site is where the hive stands.
type Site struct {
	Name      string
	Latitude  float64 // north positive [deg]
	Longitude float64 // east positive [deg]
	Height    float64 // above sea level [m]
	// HasPlace is true when Latitude, Longitude and Height were given; else the
	// weather file's own place holds.
	HasPlace bool
	Exposure Exposure
	Shade    float64 // share of direct sun kept off the hive, 0 to 1 [-]
	// Beside is the clear distance to a hive of the same size that stands straight
	// beside each upright side, indexed by Front, Back, Left, Right; 0 for none. [m]
	Beside [4]float64
}

// Exposure of the stand to wind.
type Exposure string

// Exposures, from the most to the least windy.
const (
	Open      Exposure = "open"
	Hedged    Exposure = "hedged"
	WoodEdge  Exposure = "wood edge"
	Sheltered Exposure = "sheltered"
)

// Measured holds what the measurements of this very hive say where its
// description and the usual biology say otherwise. Each factor multiplies what is
// computed; 0 stands for 1, as computed.
type Measured struct {
	Shell float64 // conductance of walls, lid, boards and floor [-]
	Leak  float64 // leakage area of the joints [-]
	Bees  float64 // heat the colony makes in the same surroundings [-]
	On    Day     // day of the measurement, or its last
	From  string  // which measurement, for people
}

// Plan is everything one hive file says.
type Plan struct {
	Hive     Hive
	Colony   Colony
	Site     Site
	Measured Measured // what this hive's own measurements say beside its description
	Notes    string
	// Materials are the keeper's own, beside the standard table, by name.
	Materials []material.Material
}
