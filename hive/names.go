package hive

import (
	"fmt"
	"strings"
)

// faceNames are the words of the hive file, indexed by Face.
func faceNames() [6]string {
	return [...]string{Front: "front", Back: "back", Left: "left", Right: "right", Top: "top", Bottom: "bottom"}
}

// String returns the word of the hive file for the face, such as "front".
func (f Face) String() string {
	names := faceNames()
	if f < 0 || int(f) >= len(names) {
		return fmt.Sprintf("face %d", int(f))
	}
	return names[f]
}

// Upright reports whether f is one of the four sides.
func (f Face) Upright() bool { return f >= Front && f <= Right }

// entranceName is the name of the opening that the file describes under its own
// key, starting from the preset's.
const entranceName = "entrance"

// hasEntrance reports whether the first opening is the one under that key.
func (h Hive) hasEntrance() bool {
	return len(h.Openings) > 0 && h.Openings[0].Name == entranceName
}

// The paths below say where in the file a part stands; list entries are counted
// from 1, as people do.

func bodyPath(i int) string { return fmt.Sprintf("hive.bodies[%d]", i+1) }

func (h Hive) openingPath(i int) string {
	if h.hasEntrance() {
		if i == 0 {
			return "hive." + entranceName
		}
		i--
	}
	return fmt.Sprintf("hive.openings[%d]", i+1)
}

func followerPath(i int) string { return fmt.Sprintf("hive.followers[%d]", i+1) }

func wrapPath(i int) string { return fmt.Sprintf("hive.wraps[%d]", i+1) }

func bodyLabel(i int, b Body) string {
	return strings.TrimSpace(fmt.Sprintf("body %d %s", i+1, b.Name))
}

func followerLabel(i int) string { return fmt.Sprintf("follower %d", i+1) }
