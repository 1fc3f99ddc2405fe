package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"slices"
	"strings"
	"time"

	"hackle/yard"
)

// lifeKinds are the records that tell where a colony lives and how it ends.
const lifeKinds = "('moved', 'died', 'merged', 'winter-outcome')"

// recordTable needs the clock to tell what lies in the future.
func recordTable(now func() time.Time) table[yard.Record] {
	return table[yard.Record]{
		name: "record", columns: []string{"kind", "at", "instant", "hive", "colony", "other_colony", `"values"`, "note"},
		order: "ORDER BY instant, id",
		meta:  func(r *yard.Record) *yard.Meta { return &r.Meta },
		same:  func(fresh, kept *yard.Record) bool { return fresh.Same(*kept) },
		row: func(r *yard.Record) ([]any, error) {
			values := r.Values
			if values == nil {
				values = map[string]any{}
			}
			text, err := json.Marshal(values)
			return []any{string(r.Kind), r.At.Format(time.RFC3339), r.At.Unix(), ref(r.Hive), ref(r.Colony), ref(otherColony(*r)), string(text), r.Note}, err
		},
		into: func(r *yard.Record) []any {
			return []any{&r.Kind, timeInto{&r.At}, new(int64), refInto{&r.Hive}, refInto{&r.Colony}, refInto{new(yard.ID)}, jsonInto{&r.Values}, &r.Note}
		},
		normal: func(r *yard.Record) {
			_, seconds := r.At.Zone()
			r.At = r.At.In(time.FixedZone("", seconds))
			if r.Values == nil {
				r.Values = map[string]any{}
			}
		},
		rules: func(ctx context.Context, tx *sql.Tx, old, fresh *yard.Record) error {
			// A phone may be some hours wrong, or its day begin earlier than here.
			if latest := now().Add(24 * time.Hour); !fresh.Deleted && fresh.At.After(latest) {
				return &yard.Faults{Of: "record", List: []yard.Fault{{Field: "at", Found: fresh.At.Format(time.RFC3339), Wanted: "a time that has come", Hint: "look at the year"}}}
			}
			return recordRules(ctx, tx, old, fresh)
		},
	}
}

// otherColony is the second colony that a record names.
func otherColony(r yard.Record) yard.ID {
	switch r.Kind {
	case yard.Merged:
		return yard.ID(r.Text("into"))
	case yard.Swarmed:
		return yard.ID(r.Text("swarm"))
	}
	return ""
}

// recordRules fills in the hive or the colony that the others tell, and holds the
// record against the lives of the colonies that it touches.
func recordRules(ctx context.Context, tx *sql.Tx, old, fresh *yard.Record) error {
	if !fresh.Deleted {
		if err := present(ctx, tx, "record", "hive", "hive", fresh.Hive); err != nil {
			return err
		}
		if err := present(ctx, tx, "record", "colony", "colony", fresh.Colony); err != nil {
			return err
		}
		if err := present(ctx, tx, "record", otherField(fresh.Kind), "colony", otherColony(*fresh)); err != nil {
			return err
		}
		if err := fill(ctx, tx, fresh); err != nil {
			return err
		}
		if err := fresh.Check(); err != nil { // again: what was filled in counts
			return err
		}
	}
	touched := []yard.ID{fresh.Colony, otherColony(*fresh)}
	hives := []yard.ID{}
	weighty := isLifeEvent(*fresh)
	if old != nil {
		touched = append(touched, old.Colony, otherColony(*old))
		weighty = weighty || isLifeEvent(*old)
	}
	slices.Sort(touched)
	for _, colony := range slices.Compact(touched) {
		if colony == "" {
			continue
		}
		life, err := lifeWith(ctx, tx, colony, fresh, weighty)
		if err != nil {
			return err
		}
		if otherColony(*fresh) == colony && fresh.Kind == yard.Merged && !fresh.Deleted && !life.Alive(fresh.At) {
			return &yard.Faults{Of: "record of kind merged", List: []yard.Fault{{Field: "into", Found: "a colony that ended at " + life.End.Format(time.RFC3339),
				Wanted: "one that lived at " + fresh.At.Format(time.RFC3339)}}}
		}
		for _, s := range life.Stays {
			hives = append(hives, s.Hive)
		}
	}
	if !weighty {
		return nil
	}
	slices.Sort(hives)
	return checkRoom(ctx, tx, slices.Compact(hives), fresh)
}

func otherField(k yard.Kind) string {
	if k == yard.Merged {
		return "into"
	}
	return "swarm"
}

func isLifeEvent(r yard.Record) bool {
	return strings.Contains(lifeKinds, "'"+string(r.Kind)+"'")
}

// lifeWith is the life of a colony as it would be with a record kept. Unless all is
// asked for, only the events of its life are read beside that record.
func lifeWith(ctx context.Context, tx *sql.Tx, colony yard.ID, fresh *yard.Record, all bool) (yard.Life, error) {
	t := recordTable(nil)
	where := "WHERE colony = ? AND deleted = 0 AND id <> ?"
	if !all {
		where += " AND kind IN " + lifeKinds
	}
	records, err := t.list(ctx, tx, where, string(colony), string(fresh.ID))
	if err != nil {
		return yard.Life{}, err
	}
	return yard.LifeOf(colony, append(records, *fresh))
}

// checkRoom looks whether two colonies would live in one of the hives at once.
func checkRoom(ctx context.Context, tx *sql.Tx, hives []yard.ID, fresh *yard.Record) error {
	for _, h := range hives {
		colonies, err := ids(ctx, tx, "SELECT DISTINCT colony FROM record WHERE kind = 'moved' AND hive = ? AND deleted = 0 AND colony IS NOT NULL", string(h))
		if err != nil {
			return err
		}
		if fresh.Colony != "" && !slices.Contains(colonies, fresh.Colony) {
			colonies = append(colonies, fresh.Colony)
		}
		lives := make([]yard.Life, 0, len(colonies))
		for _, c := range colonies {
			life, err := lifeWith(ctx, tx, c, fresh, false)
			if err != nil {
				return err
			}
			lives = append(lives, life)
		}
		if err := yard.CheckRoom(lives); err != nil {
			return err
		}
	}
	return nil
}

// fill puts in the colony that lived in the hive at the time, or the hive that the
// colony lived in, where the record names only one of the two.
func fill(ctx context.Context, tx *sql.Tx, r *yard.Record) error {
	switch {
	case r.Kind == yard.Moved || (r.Hive == "") == (r.Colony == ""):
		return nil
	case r.Hive == "":
		life, err := lifeWith(ctx, tx, r.Colony, &yard.Record{}, false)
		if err != nil {
			return err
		}
		r.Hive, _ = life.HiveAt(r.At)
		return nil
	}
	colonies, err := ids(ctx, tx, "SELECT DISTINCT colony FROM record WHERE kind = 'moved' AND hive = ? AND deleted = 0 AND instant <= ?", string(r.Hive), r.At.Unix())
	if err != nil {
		return err
	}
	for _, c := range colonies {
		life, err := lifeWith(ctx, tx, c, &yard.Record{}, false)
		if err != nil {
			return err
		}
		if h, ok := life.HiveAt(r.At); ok && h == r.Hive {
			r.Colony = c
			return nil
		}
	}
	return nil
}

func ids(ctx context.Context, db querier, query string, args ...any) ([]yard.ID, error) {
	rows, err := db.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var all []yard.ID
	for rows.Next() {
		var id yard.ID
		if err := rows.Scan(&id); err != nil {
			return nil, err
		}
		all = append(all, id)
	}
	return all, rows.Err()
}

// RecordFilter chooses records. The zero value chooses all that are not deleted.
type RecordFilter struct {
	Yard    yard.ID     // at hives of the yard
	Hive    yard.ID     //
	Colony  yard.ID     //
	Kinds   []yard.Kind // any of these
	From    time.Time   // not before
	To      time.Time   // before
	Deleted bool        // those that are deleted too
	Latest  bool        // the latest first
	Limit   int         // at most so many, 0: all
}

// FindRecords returns the records that the filter chooses, by time.
func (s *Store) FindRecords(ctx context.Context, f RecordFilter) ([]yard.Record, error) {
	where, args := []string{"1 = 1"}, []any{}
	add := func(clause string, a ...any) { where = append(where, clause); args = append(args, a...) }
	if !f.Deleted {
		add("deleted = 0")
	}
	if f.Yard != "" {
		add("hive IN (SELECT id FROM hive WHERE yard = ?)", string(f.Yard))
	}
	if f.Hive != "" {
		add("hive = ?", string(f.Hive))
	}
	if f.Colony != "" {
		add("colony = ?", string(f.Colony))
	}
	if len(f.Kinds) > 0 {
		add("kind IN (?"+strings.Repeat(", ?", len(f.Kinds)-1)+")", kindArgs(f.Kinds)...)
	}
	if !f.From.IsZero() {
		add("instant >= ?", f.From.Unix())
	}
	if !f.To.IsZero() {
		add("instant < ?", f.To.Unix())
	}
	query := "WHERE " + strings.Join(where, " AND ")
	if f.Latest {
		query += " ORDER BY instant DESC, id DESC"
	} else {
		query += " " + s.Records.table.order
	}
	if f.Limit > 0 {
		query += " LIMIT ?"
		args = append(args, f.Limit)
	}
	all, err := s.Records.table.list(ctx, s.read, query, args...)
	return all, s.fail("reading the records", err)
}

func kindArgs(kinds []yard.Kind) []any {
	args := make([]any, len(kinds))
	for i, k := range kinds {
		args[i] = string(k)
	}
	return args
}

// Lives returns the life of every colony that is not deleted, by ID of the colony.
func (s *Store) Lives(ctx context.Context) (map[yard.ID]yard.Life, error) {
	colonies, err := s.Colonies.All(ctx, false)
	if err != nil {
		return nil, err
	}
	records, err := s.Records.table.list(ctx, s.read, "WHERE deleted = 0 AND kind IN "+lifeKinds)
	if err != nil {
		return nil, s.fail("reading the lives of the colonies", err)
	}
	own := map[yard.ID][]yard.Record{}
	for _, r := range records {
		own[r.Colony] = append(own[r.Colony], r)
	}
	lives := make(map[yard.ID]yard.Life, len(colonies))
	var faults []error
	for _, c := range colonies {
		life, err := yard.LifeOf(c.ID, own[c.ID])
		faults = append(faults, err)
		lives[c.ID] = life
	}
	return lives, s.fail("reading the lives of the colonies", errors.Join(faults...))
}

// Occupants returns the colony that lives in each hive at a time, by ID of the
// hive. Empty hives are not in it.
func (s *Store) Occupants(ctx context.Context, at time.Time) (map[yard.ID]yard.Colony, error) {
	lives, err := s.Lives(ctx)
	if err != nil {
		return nil, err
	}
	colonies, err := s.Colonies.All(ctx, false)
	if err != nil {
		return nil, err
	}
	in := map[yard.ID]yard.Colony{}
	for _, c := range colonies {
		life := lives[c.ID]
		if hive, ok := life.HiveAt(at); ok && (life.End.IsZero() || at.Before(life.End)) {
			in[hive] = c
		}
	}
	return in, nil
}
