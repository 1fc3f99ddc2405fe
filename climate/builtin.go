package climate

import (
	"embed"
	"fmt"
	"strings"
)

// weatherFiles are licensed typical years and the tables of sites and monthly
// normals; see weather/PROVENANCE.md for their source and notice.
//
//go:embed weather/*.epw.gz weather/*.csv weather/PROVENANCE.md
var weatherFiles embed.FS

const (
	weatherDir  = "weather/"
	builtinTail = ".epw.gz"
)

// BuiltinNames returns the names of the built-in weather in alphabetical order;
// [Sites] tells more of each.
func BuiltinNames() []string {
	sites, err := Sites()
	if err != nil {
		return nil // the table is part of the program
	}
	names := make([]string, len(sites))
	for i, s := range sites {
		names[i] = s.Name
	}
	return names
}

// Builtin returns the typical year built in under a name such as
// "burlington-vt": that of a file, or one made from monthly normals by
// [MakeTypical]; see [Site]. An unknown name is an error that names the
// nearest ones.
func Builtin(name string) (*Series, error) {
	site, err := siteNamed(name)
	if err != nil {
		return nil, err
	}
	if site.Basis != TypicalYear {
		return site.made()
	}
	packed, err := weatherFiles.ReadFile(weatherDir + name + builtinTail)
	if err != nil {
		return nil, fmt.Errorf("built-in weather %s: %w", name, err)
	}
	text, err := plainText(name, packed)
	if err != nil {
		return nil, err
	}
	s, err := readEPW(name, text)
	if err != nil {
		return nil, err
	}
	s.MidOffset = site.midOffset
	station, _, _ := strings.Cut(s.Source, ";")
	s.Source = strings.TrimSuffix(station, ", station -") + ": " + site.Source
	return s, nil
}

// BuiltinNotice returns where the built-in weather comes from and the notice
// under which it may be passed on.
func BuiltinNotice() string {
	text, err := weatherFiles.ReadFile(weatherDir + "PROVENANCE.md")
	if err != nil {
		return "" // the file is part of the program
	}
	return string(text)
}
