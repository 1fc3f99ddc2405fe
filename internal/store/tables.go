package store

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"time"

	"hackle/yard"
)

// ref writes an ID that may be missing.
func ref(id yard.ID) any {
	if id == "" {
		return nil
	}
	return string(id)
}

// refInto reads an ID that may be missing.
type refInto struct{ id *yard.ID }

// Scan implements sql.Scanner.
func (r refInto) Scan(v any) error {
	switch v := v.(type) {
	case nil:
		*r.id = ""
	case string:
		*r.id = yard.ID(v)
	default:
		return fmt.Errorf("found %T for an ID", v)
	}
	return nil
}

// jsonInto reads a JSON value.
type jsonInto struct{ into any }

// Scan implements sql.Scanner.
func (j jsonInto) Scan(v any) error {
	text, ok := v.(string)
	if !ok {
		return fmt.Errorf("found %T for a JSON value", v)
	}
	return json.Unmarshal([]byte(text), j.into)
}

// timeInto reads a time.
type timeInto struct{ t *time.Time }

// Scan implements sql.Scanner.
func (i timeInto) Scan(v any) error {
	text, ok := v.(string)
	if !ok {
		return fmt.Errorf("found %T for a time", v)
	}
	t, err := time.Parse(time.RFC3339Nano, text)
	*i.t = t
	return err
}

// collections makes the collections of the store.
func (s *Store) collections() {
	yards := func(y *yard.Yard) *yard.Meta { return &y.Meta }
	s.Yards = &Collection[yard.Yard]{s, table[yard.Yard]{
		name: "yard", columns: []string{"name", "has_place", "latitude_deg", "longitude_deg", "height_m", "weather", "note"},
		order: "ORDER BY name COLLATE NOCASE, id", meta: yards, same: plainSame(yards),
		row: func(y *yard.Yard) ([]any, error) {
			return []any{y.Name, y.HasPlace, y.Latitude, y.Longitude, y.Height, y.Weather, y.Note}, nil
		},
		into: func(y *yard.Yard) []any {
			return []any{&y.Name, &y.HasPlace, &y.Latitude, &y.Longitude, &y.Height, &y.Weather, &y.Note}
		},
		rules: func(ctx context.Context, tx *sql.Tx, _, y *yard.Yard) error {
			return unusedWhenDeleted(ctx, tx, y.Meta, "yard", "SELECT count(*) FROM hive WHERE yard = ? AND deleted = 0", "hives that stand in it", "delete or move them first")
		},
	}}
	hives := func(h *yard.Hive) *yard.Meta { return &h.Meta }
	s.Hives = &Collection[yard.Hive]{s, table[yard.Hive]{
		name: "hive", columns: []string{"yard", "name", "has_position", "x_m", "y_m", "note"},
		order: "ORDER BY name COLLATE NOCASE, id", meta: hives, same: plainSame(hives),
		row: func(h *yard.Hive) ([]any, error) {
			return []any{string(h.Yard), h.Name, h.HasPosition, h.X, h.Y, h.Note}, nil
		},
		into: func(h *yard.Hive) []any {
			return []any{&h.Yard, &h.Name, &h.HasPosition, &h.X, &h.Y, &h.Note}
		},
		rules: func(ctx context.Context, tx *sql.Tx, _, h *yard.Hive) error {
			if h.Deleted {
				return nil
			}
			return present(ctx, tx, "hive", "yard", "yard", h.Yard)
		},
	}}
	builds := func(b *yard.Build) *yard.Meta { return &b.Meta }
	s.Builds = &Collection[yard.Build]{s, table[yard.Build]{
		name: "build", columns: []string{"hive", "from_day", "file", "note"},
		order: "ORDER BY from_day, id", meta: builds, same: plainSame(builds),
		row: func(b *yard.Build) ([]any, error) {
			return []any{string(b.Hive), b.From, b.File, b.Note}, nil
		},
		into: func(b *yard.Build) []any { return []any{&b.Hive, &b.From, &b.File, &b.Note} },
	}}
	colonies := func(c *yard.Colony) *yard.Meta { return &c.Meta }
	s.Colonies = &Collection[yard.Colony]{s, table[yard.Colony]{
		name: "colony", columns: []string{"name", "origin", "from_colony", "note"},
		order: "ORDER BY name COLLATE NOCASE, id", meta: colonies, same: plainSame(colonies),
		row: func(c *yard.Colony) ([]any, error) { return []any{c.Name, c.Origin, ref(c.From), c.Note}, nil },
		into: func(c *yard.Colony) []any {
			return []any{&c.Name, &c.Origin, refInto{&c.From}, &c.Note}
		},
		rules: func(ctx context.Context, tx *sql.Tx, _, c *yard.Colony) error {
			return unusedWhenDeleted(ctx, tx, c.Meta, "colony", "SELECT count(*) FROM record WHERE ? IN (colony, other_colony) AND deleted = 0", "records of it", "delete them first, or record that it died or was merged")
		},
	}}
	plans := func(p *yard.Plan) *yard.Meta { return &p.Meta }
	s.Plans = &Collection[yard.Plan]{s, table[yard.Plan]{
		name: "plan", columns: []string{"yard", "hive", "name", "changes", "note"},
		order: "ORDER BY name COLLATE NOCASE, id", meta: plans, same: plainSame(plans),
		normal: func(p *yard.Plan) {
			var b bytes.Buffer
			if json.Compact(&b, p.Changes) == nil {
				p.Changes = b.Bytes()
			}
		},
		row: func(p *yard.Plan) ([]any, error) {
			return []any{string(p.Yard), ref(p.Hive), p.Name, string(p.Changes), p.Note}, nil
		},
		into: func(p *yard.Plan) []any {
			return []any{&p.Yard, refInto{&p.Hive}, &p.Name, jsonInto{&p.Changes}, &p.Note}
		},
	}}
	s.Records = &Collection[yard.Record]{s, recordTable(s.now)}
}

// unusedWhenDeleted refuses to delete what others need.
func unusedWhenDeleted(ctx context.Context, tx *sql.Tx, m yard.Meta, of, query, what, todo string) error {
	if !m.Deleted {
		return nil
	}
	var n int
	if err := tx.QueryRowContext(ctx, query, string(m.ID)).Scan(&n); err != nil || n == 0 {
		return err
	}
	return &yard.Faults{Of: of, List: []yard.Fault{{Field: "deleted", Found: fmt.Sprintf("%d %s", n, what), Wanted: "none", Hint: todo}}}
}

// present refuses a reference to what is not there or was deleted.
func present(ctx context.Context, tx *sql.Tx, of, field, table string, id yard.ID) error {
	if id == "" {
		return nil
	}
	var n int
	if err := tx.QueryRowContext(ctx, "SELECT count(*) FROM "+table+" WHERE id = ? AND deleted = 0", string(id)).Scan(&n); err != nil || n == 1 {
		return err
	}
	return &yard.Faults{Of: of, List: []yard.Fault{{Field: field, Found: string(id), Wanted: "the ID of a " + table + " that is kept", Hint: "keep the " + table + " first"}}}
}

// All returns every thing of the collection in order, those that are deleted too
// when asked.
func (c *Collection[T]) All(ctx context.Context, deleted bool) ([]T, error) {
	return c.where(ctx, deleted, "1 = 1")
}

func (c *Collection[T]) where(ctx context.Context, deleted bool, where string, args ...any) ([]T, error) {
	if !deleted {
		where = "deleted = 0 AND " + where
	}
	all, err := c.table.list(ctx, c.store.read, "WHERE "+where+" "+c.table.order, args...)
	return all, c.store.fail("reading the "+c.table.name+"s", err)
}

// HivesOf returns the hives of a yard by name.
func (s *Store) HivesOf(ctx context.Context, id yard.ID) ([]yard.Hive, error) {
	return s.Hives.where(ctx, false, "yard = ?", string(id))
}

// BuildsOf returns the builds of a hive by day; yard.BuildOn picks that of a day.
func (s *Store) BuildsOf(ctx context.Context, hive yard.ID) ([]yard.Build, error) {
	return s.Builds.where(ctx, false, "hive = ?", string(hive))
}

// PlansOf returns the plans of a yard by name.
func (s *Store) PlansOf(ctx context.Context, id yard.ID) ([]yard.Plan, error) {
	return s.Plans.where(ctx, false, "yard = ?", string(id))
}
