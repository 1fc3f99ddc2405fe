package yard

import (
	"cmp"
	"fmt"
	"slices"
	"time"
)

// Stay is the time that a colony lived in a hive.
type Stay struct {
	Hive ID        `json:"hive"`
	From time.Time `json:"from"`
	To   time.Time `json:"to"` // zero while it still lives there
}

// Life is what its records say of a colony: where it lived, and how it ended.
type Life struct {
	Colony ID        `json:"colony"`
	Stays  []Stay    `json:"stays"`
	End    time.Time `json:"end"`   // zero while it lives
	Ended  Kind      `json:"ended"` // Died or Merged, empty while it lives
	Cause  string    `json:"cause"` // of its death
	Into   ID        `json:"into"`  // colony that took it in
	By     ID        `json:"by"`    // record that says so
}

// Alive reports whether the colony lives at t as far as the records tell.
func (l Life) Alive(t time.Time) bool { return l.End.IsZero() || !t.After(l.End) }

// HiveAt returns the hive that the colony lived in at t.
func (l Life) HiveAt(t time.Time) (hive ID, ok bool) {
	for _, s := range l.Stays {
		if !t.Before(s.From) && (s.To.IsZero() || t.Before(s.To) || t.Equal(s.To) && s.To.Equal(l.End)) {
			hive, ok = s.Hive, true
		}
	}
	return hive, ok
}

// ends reports whether a record ends its colony.
func ends(r Record) bool {
	return r.Kind == Died || r.Kind == Merged || r.Kind == WinterOutcome && r.Text("outcome") == "dead"
}

// LifeOf reads the life of a colony from its records, in any order; those of other
// colonies and deleted ones are left aside. The error is a *Faults that names the
// record which the others forbid: nothing is seen of a colony after it ended.
func LifeOf(colony ID, records []Record) (Life, error) {
	own := make([]Record, 0, len(records))
	for _, r := range records {
		if r.Colony == colony && !r.Deleted {
			own = append(own, r)
		}
	}
	slices.SortStableFunc(own, func(a, b Record) int {
		// What ends a colony comes last of its second.
		return cmp.Or(a.At.Compare(b.At), cmp.Compare(rank(a), rank(b)), cmp.Compare(a.ID, b.ID))
	})
	life := Life{Colony: colony}
	fs := &Faults{Of: "colony"}
	for _, r := range own {
		if !life.End.IsZero() {
			// A note may be written on a grave, and the outcome of the winter
			// says what the death said.
			switch {
			case r.Kind == Note:
			case r.Kind == WinterOutcome && r.Text("outcome") == "dead" && life.Ended == Died:
				if life.Cause == "" || life.Cause == "unknown" {
					life.Cause = cmp.Or(r.Text("cause"), life.Cause)
				}
			case r.Kind == Died && life.By != "" && life.Ended == Died && life.fromOutcome(own):
				life.Cause = cmp.Or(r.Text("cause"), life.Cause)
			default:
				fs.add("at", fmt.Sprintf("a record of kind %s (%s) at %s", r.Kind, r.ID, r.At.Format(time.RFC3339)),
					fmt.Sprintf("nothing after %s, when the colony %s", life.End.Format(time.RFC3339), life.Ended),
					"correct the time of one of the two, or delete the record that ends the colony")
			}
			continue
		}
		if r.Kind == Moved {
			if n := len(life.Stays); n > 0 {
				life.Stays[n-1].To = r.At
			}
			life.Stays = append(life.Stays, Stay{Hive: r.Hive, From: r.At})
		}
		if ends(r) {
			life.End, life.Ended, life.By = r.At, Died, r.ID
			life.Cause = r.Text("cause")
			if r.Kind == Merged {
				life.Ended, life.Into, life.Cause = Merged, ID(r.Text("into")), ""
			}
			if n := len(life.Stays); n > 0 {
				life.Stays[n-1].To = r.At
			}
		}
	}
	return life, fs.err()
}

// fromOutcome reports whether the record that ended the life is a winter outcome.
func (l Life) fromOutcome(records []Record) bool {
	return slices.ContainsFunc(records, func(r Record) bool { return r.ID == l.By && r.Kind == WinterOutcome })
}

// rank orders records of one second: moves first, ends last.
func rank(r Record) int {
	switch {
	case r.Kind == Moved:
		return 0
	case ends(r):
		return 2
	}
	return 1
}

// CheckRoom returns a *Faults when two living colonies would share a hive: each
// hive holds one colony at a time, and a colony that is put into an occupied one is
// merged with it.
func CheckRoom(lives []Life) error {
	fs := &Faults{Of: "colony"}
	type stay struct {
		Stay
		colony ID
	}
	var all []stay
	for _, l := range lives {
		for _, s := range l.Stays {
			all = append(all, stay{s, l.Colony})
		}
	}
	slices.SortFunc(all, func(a, b stay) int {
		return cmp.Or(cmp.Compare(a.Hive, b.Hive), a.From.Compare(b.From), cmp.Compare(a.colony, b.colony))
	})
	for i := range all {
		for j := i + 1; j < len(all) && all[j].Hive == all[i].Hive; j++ {
			a, b := all[i], all[j]
			if a.colony == b.colony || !a.To.IsZero() && !a.To.After(b.From) || !b.To.IsZero() && !b.From.Before(b.To) {
				continue
			}
			fs.add("hive", fmt.Sprintf("hive %s, where colony %s lives since %s", a.Hive, a.colony, a.From.Format(time.RFC3339)),
				fmt.Sprintf("an empty hive for colony %s at %s", b.colony, b.From.Format(time.RFC3339)),
				"record first that the other colony moved, died or was merged")
		}
	}
	return fs.err()
}
