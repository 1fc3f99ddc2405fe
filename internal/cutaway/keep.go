package cutaway

import (
	"bytes"
	"encoding/gob"
	"errors"
	"fmt"
	"time"

	"hackle/hive"
	"hackle/season"
)

// keptVersion changes when the form in which a year is kept does.
const keptVersion = 1

// keptYear is a year as it is kept in a file.
type keptYear struct {
	Version int
	Hive    hive.Hive
	Start   time.Time
	Hours   int
	Slabs   []season.Slab
	Columns []string
	Breadth float64
	List    []keptSeries
}

type keptSeries struct {
	Name, Unit string
	Per, First int
	Values     []uint16
}

// MarshalBinary writes all of a year, so that it can be drawn again later: see
// [Year.UnmarshalBinary]. MarshalJSON writes what a script needs of it.
func (y *Year) MarshalBinary() ([]byte, error) {
	k := keptYear{keptVersion, y.hive, y.start, y.hours, y.slabs, y.columns, y.breadth, nil}
	for _, s := range y.list {
		v := keptSeries{s.name, s.unit, s.per, s.first, make([]uint16, len(s.values))}
		for i, x := range s.values {
			v.Values[i] = uint16(x) // at most mostSteps
		}
		k.List = append(k.List, v)
	}
	var b bytes.Buffer
	err := gob.NewEncoder(&b).Encode(k)
	return b.Bytes(), err
}

// UnmarshalBinary reads a year that MarshalBinary wrote. One of another version or
// one that is damaged is an error, and y is left as it was.
func (y *Year) UnmarshalBinary(data []byte) error {
	var k keptYear
	if err := gob.NewDecoder(bytes.NewReader(data)).Decode(&k); err != nil {
		return fmt.Errorf("cutaway: a kept year: %w", err)
	}
	if k.Version != keptVersion {
		return fmt.Errorf("cutaway: a kept year of version %d, read is %d", k.Version, keptVersion)
	}
	if k.Hours < 1 || len(k.Hive.Bodies) == 0 {
		return errors.New("cutaway: a kept year without hours or hive")
	}
	fresh := Year{hive: k.Hive, start: k.Start, hours: k.Hours, slabs: k.Slabs, columns: k.Columns, breadth: k.Breadth, index: map[string]int{}}
	for i, s := range k.List {
		if len(s.Values) != k.Hours || s.Per < 1 {
			return fmt.Errorf("cutaway: a kept year of %d hours has %d of %s", k.Hours, len(s.Values), s.Name)
		}
		v := series{s.Name, s.Unit, s.Per, s.First, make([]int, len(s.Values))}
		for h, x := range s.Values {
			v.values[h] = int(x)
		}
		fresh.index[s.Name] = i
		fresh.list = append(fresh.list, v)
	}
	*y = fresh
	return nil
}
