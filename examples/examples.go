// Package examples holds invented hives, as files a keeper can copy and change.
package examples

import (
	"embed"
	"io/fs"
)

// files are the hive files; every one says in its notes that it is invented.
//
//go:embed *.yaml
var files embed.FS

// Files returns the example hives as a flat directory of hive files.
func Files() fs.FS { return files }

// Order returns the file names in the order in which they are best compared:
// first three hives that differ in one thing each, then other builds. A test
// holds it against the directory.
func Order() []string {
	return []string{
		"two-deep-low-entrance.yaml",
		"two-deep-top-vent.yaml",
		"two-deep-wool-lid.yaml",
		"insulated-walls.yaml",
		"long-hive.yaml",
		"national-mesh-floor.yaml",
		"warre.yaml",
		"summer-flow.yaml",
	}
}
