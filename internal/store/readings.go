package store

import (
	"cmp"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"

	"hackle/logger"
	"hackle/yard"
)

// Sensor is a thermometer, scale or other instrument whose readings are kept.
type Sensor struct {
	ID       int64           `json:"id"`
	Name     string          `json:"name"`
	Quantity logger.Quantity `json:"-"`
	Measures string          `json:"quantity"` // the word for Quantity
	Unit     string          `json:"unit"`     // of its readings
	Note     string          `json:"note"`
	Readings int64           `json:"readings"`
	First    int64           `json:"first_s"` // Unix time of the first reading, 0 without [s]
	Last     int64           `json:"last_s"`  // [s]
	Places   []Placement     `json:"places"`  // rising in time
}

// Places of a sensor.
const (
	Inside   = "inside"
	Outdoors = "outdoors"
	OnScale  = "scale"
	Away     = "away" // not in use
)

// Placement is where a sensor hung from a time on, until its next placement.
type Placement struct {
	Since  int64   `json:"since_s"` // Unix time [s]
	Hive   yard.ID `json:"hive"`    // empty outdoors of no hive, and away
	Place  string  `json:"place"`   // inside, outdoors, scale or away
	Height float64 `json:"height_m"`
	Column string  `json:"column"` // core, flank or beyond, inside only
	Note   string  `json:"note"`
}

// Check returns what is wrong with a placement.
func (p Placement) Check() error {
	switch p.Place {
	case Inside:
		if p.Hive == "" {
			return errors.New("a place inside needs its hive")
		}
		if !(p.Height >= 0 && p.Height < 3) {
			return fmt.Errorf("height %g m above the floor, accepted: 0 to 3 m", p.Height)
		}
		if !slices.Contains([]string{"core", "flank", "beyond"}, p.Column) {
			return fmt.Errorf("column %q, accepted: core, flank or beyond", p.Column)
		}
		return nil
	case OnScale:
		if p.Hive == "" {
			return errors.New("a scale needs its hive")
		}
	case Outdoors, Away:
	default:
		return fmt.Errorf("place %q, accepted: inside, outdoors, scale or away", p.Place)
	}
	if p.Height != 0 || p.Column != "" {
		return fmt.Errorf("height and column are for places inside, not for %s", p.Place)
	}
	return nil
}

// At returns where the sensor hung at a time; ok is false before its first placement.
func (s Sensor) At(unix int64) (p Placement, ok bool) {
	for _, q := range s.Places {
		if q.Since <= unix {
			p, ok = q, true
		}
	}
	return p, ok
}

// monthOf counts months from year 0.
func monthOf(at int64) int64 {
	t := time.Unix(at, 0).UTC()
	return int64(t.Year())*12 + int64(t.Month()) - 1
}

// monthStart is the Unix time at which a month begins. [s]
func monthStart(month int64) int64 {
	return time.Date(int(month/12), time.Month(month%12+1), 1, 0, 0, 0, 0, time.UTC).Unix()
}

const (
	// buffered readings of an import before they are packed: 32 MiB.
	mostBuffered = 2 << 20
	// longestTail is how many live readings of a sensor wait before they are packed.
	longestTail = 4096
	// earliest and latest instants that are kept: years 1900 to 2200.
	earliest = -2208988800
	latest   = 7258118400
)

// ImportOptions say how an import treats what is there. The zero value keeps it.
type ImportOptions struct {
	// Replace lets the file's value win where an instant is kept with another.
	Replace bool
	// Progress, when not nil, is told how many readings have been taken in.
	Progress func(readings int)
}

// Imported tells what an import did.
type Imported struct {
	logger.Report
	logger.Merged
	NewSensors []string
}

// ImportReadings takes in a file of a logger with a map, whole or not at all. It
// may be of any length: memory stays bounded. What overlaps with readings kept
// already is merged by instant.
func (s *Store) ImportReadings(ctx context.Context, name string, r io.Reader, m *logger.Map, o ImportOptions) (*Imported, error) {
	const doing = "taking in readings"
	packer, err := logger.NewPacker()
	if err != nil {
		return nil, s.fail(doing, err)
	}
	in := &intake{ctx: ctx, s: s, packer: packer, options: o, ids: map[string]int{}, result: &Imported{}}
	defer in.end()
	report, err := logger.Read(ctx, name, r, m, in)
	if err != nil {
		var file *logger.FileError
		var known *Error
		if errors.As(err, &file) || errors.As(err, &known) {
			return nil, err
		}
		return nil, s.fail(doing, err)
	}
	in.result.Report = *report
	if err := in.flush(); err != nil {
		return nil, s.fail(doing, err)
	}
	text, err := json.Marshal(fileReport(in.result))
	if err != nil {
		return nil, s.fail(doing, err)
	}
	if _, err := in.tx.ExecContext(ctx, "INSERT INTO logger_file (name, taken, report) VALUES (?, ?, ?)", name, timeText(s.stamp()), string(text)); err != nil {
		return nil, s.fail(doing, err)
	}
	return in.result, s.fail(doing, in.tx.Commit())
}

// fileReport is what is kept of an import.
func fileReport(r *Imported) map[string]any {
	return map[string]any{"rows": r.Rows, "readings": r.Readings, "bad_rows": r.BadRows, "bad_values": r.BadValues,
		"added": r.Added, "same": r.Same, "differing": r.Differing, "notes": r.Notes}
}

// intake is the sink of an import. The transaction begins with the first flush, so
// that reading a file keeps nobody waiting.
type intake struct {
	ctx     context.Context
	s       *Store
	tx      *sql.Tx
	packer  *logger.Packer
	options ImportOptions
	ids     map[string]int // sensors of the file by name and quantity
	sensors []intakeSensor
	held    int
	taken   int
	result  *Imported
}

type intakeSensor struct {
	name     string
	quantity logger.Quantity
	id       int64
	readings []logger.Reading
}

// Sensor implements logger.Sink.
func (in *intake) Sensor(name string, q logger.Quantity) (int, error) {
	key := q.String() + "\x00" + strings.ToLower(name)
	if n, ok := in.ids[key]; ok {
		return n, nil
	}
	in.ids[key] = len(in.sensors)
	in.sensors = append(in.sensors, intakeSensor{name: name, quantity: q})
	return len(in.sensors) - 1, nil
}

// Add implements logger.Sink.
func (in *intake) Add(sensor int, r logger.Reading) error {
	if r.At < earliest || r.At > latest {
		return &logger.FileError{File: "readings", Field: "time", Found: time.Unix(r.At, 0).UTC().Format(time.RFC3339), Accepted: "years 1900 to 2200"}
	}
	s := &in.sensors[sensor]
	s.readings = append(s.readings, r)
	if in.held++; in.held >= mostBuffered {
		return in.flush()
	}
	return nil
}

func (in *intake) end() {
	if in.tx != nil {
		in.tx.Rollback() // after Commit it does nothing
	}
}

func (in *intake) flush() error {
	if in.tx == nil {
		tx, err := in.s.write.BeginTx(in.ctx, nil)
		if err != nil {
			return err
		}
		in.tx = tx
	}
	for i := range in.sensors {
		s := &in.sensors[i]
		if s.id == 0 {
			id, fresh, err := in.s.sensorFor(in.ctx, in.tx, s.name, s.quantity)
			if err != nil {
				return err
			}
			s.id = id
			if fresh {
				in.result.NewSensors = append(in.result.NewSensors, s.name)
			} else if err := foldTail(in.ctx, in.tx, in.packer, id, s.quantity, 1); err != nil {
				return err
			}
		}
		m, err := putReadings(in.ctx, in.tx, in.packer, s.id, s.quantity, s.readings, in.options.Replace)
		if err != nil {
			return err
		}
		in.result.Merged = in.result.Plus(m)
		in.taken += len(s.readings)
		s.readings = s.readings[:0]
		if in.options.Progress != nil {
			in.options.Progress(in.taken)
		}
	}
	in.held = 0
	return nil
}

// sensorFor finds a sensor by name and quantity, and makes it when there is none.
func (s *Store) sensorFor(ctx context.Context, tx *sql.Tx, name string, q logger.Quantity) (id int64, fresh bool, err error) {
	name = strings.TrimSpace(name)
	if name == "" || len(name) > 200 {
		return 0, false, &Error{Problem: Refused, File: s.path, Doing: "making a sensor", Err: fmt.Errorf("name %q, accepted: 1 to 200 characters", name)}
	}
	err = tx.QueryRowContext(ctx, "SELECT id FROM sensor WHERE name = ? COLLATE NOCASE AND quantity = ?", name, int64(q)).Scan(&id)
	if !errors.Is(err, sql.ErrNoRows) {
		return id, false, err
	}
	err = tx.QueryRowContext(ctx, "INSERT INTO sensor (name, quantity, note) VALUES (?, ?, '') RETURNING id", name, int64(q)).Scan(&id)
	return id, true, err
}

// putReadings merges readings, in any order, with those kept of a sensor.
func putReadings(ctx context.Context, tx *sql.Tx, packer *logger.Packer, sensor int64, q logger.Quantity, readings []logger.Reading, replace bool) (logger.Merged, error) {
	var total logger.Merged
	rises := func(a, b logger.Reading) int { return cmp.Compare(a.At, b.At) }
	if !slices.IsSortedFunc(readings, rises) {
		slices.SortStableFunc(readings, rises)
	}
	// Twice the same instant in what comes: the first stays, or the last with replace.
	kept := readings[:0]
	for _, r := range readings {
		r.Value = q.Round(r.Value)
		if n := len(kept); n > 0 && kept[n-1].At == r.At {
			if math.Abs(kept[n-1].Value-r.Value) > q.Resolution() {
				total.Differing++
				if replace {
					kept[n-1] = r
				}
			} else {
				total.Same++
			}
			continue
		}
		kept = append(kept, r)
	}
	for i := 0; i < len(kept); {
		month := monthOf(kept[i].At)
		end := monthStart(month + 1)
		j := i
		for j < len(kept) && kept[j].At < end {
			j++
		}
		m, err := putMonth(ctx, tx, packer, sensor, q, month, kept[i:j], replace)
		if err != nil {
			return total, err
		}
		total = total.Plus(m)
		i = j
	}
	return total, nil
}

func putMonth(ctx context.Context, tx *sql.Tx, packer *logger.Packer, sensor int64, q logger.Quantity, month int64, readings []logger.Reading, replace bool) (logger.Merged, error) {
	var data []byte
	var old []logger.Reading
	err := tx.QueryRowContext(ctx, "SELECT bytes FROM reading_block WHERE sensor = ? AND month = ?", sensor, month).Scan(&data)
	switch {
	case errors.Is(err, sql.ErrNoRows):
	case err != nil:
		return logger.Merged{}, err
	default:
		if old, err = packer.Unpack(nil, data); err != nil {
			return logger.Merged{}, err
		}
	}
	all, m := logger.Merge(old, readings, q.Resolution()/2, replace)
	if m.Added == 0 && (m.Differing == 0 || !replace) {
		return m, nil
	}
	if data, err = packer.Pack(q, all); err != nil {
		return m, err
	}
	hours, err := packer.PackHours(q, logger.Hours(all))
	if err != nil {
		return m, err
	}
	if _, err := tx.ExecContext(ctx, `INSERT INTO reading_block (sensor, month, count, first, last, bytes) VALUES (?, ?, ?, ?, ?, ?)
		ON CONFLICT (sensor, month) DO UPDATE SET count = excluded.count, first = excluded.first, last = excluded.last, bytes = excluded.bytes`,
		sensor, month, len(all), all[0].At, all[len(all)-1].At, data); err != nil {
		return m, err
	}
	_, err = tx.ExecContext(ctx, `INSERT INTO hour_block (sensor, month, bytes) VALUES (?, ?, ?)
		ON CONFLICT (sensor, month) DO UPDATE SET bytes = excluded.bytes`, sensor, month, hours)
	return m, err
}

// Live is a reading that comes in by itself.
type Live struct {
	Sensor   string
	Quantity logger.Quantity
	logger.Reading
}

// AddLive keeps readings that come in one by one or a few together; when it returns
// they are on the disk. A reading of an instant that is kept already is passed over,
// so that a message sent twice counts once. Unknown sensors are made.
func (s *Store) AddLive(ctx context.Context, readings []Live) error {
	const doing = "keeping live readings"
	packer, err := logger.NewPacker()
	if err != nil {
		return s.fail(doing, err)
	}
	return s.transact(ctx, doing, func(tx *sql.Tx) error {
		touched := map[int64]logger.Quantity{}
		for _, r := range readings {
			if r.At < earliest || r.At > latest {
				return &Error{Problem: Refused, File: s.path, Doing: doing, Err: fmt.Errorf("time %s of %s, accepted: years 1900 to 2200", time.Unix(r.At, 0).UTC().Format(time.RFC3339), r.Sensor)}
			}
			id, _, err := s.sensorFor(ctx, tx, r.Sensor, r.Quantity)
			if err != nil {
				return err
			}
			var last int64
			if err := tx.QueryRowContext(ctx, "SELECT coalesce(max(last), ?) FROM reading_block WHERE sensor = ?", earliest-1, id).Scan(&last); err != nil {
				return err
			}
			if r.At <= last { // among what is packed
				if _, err := putReadings(ctx, tx, packer, id, r.Quantity, []logger.Reading{r.Reading}, false); err != nil {
					return err
				}
				continue
			}
			touched[id] = r.Quantity
			if _, err := tx.ExecContext(ctx, "INSERT INTO reading_tail (sensor, at, value) VALUES (?, ?, ?) ON CONFLICT DO NOTHING", id, r.At, r.Quantity.Round(r.Value)); err != nil {
				return err
			}
		}
		for id, q := range touched {
			if err := foldTail(ctx, tx, packer, id, q, longestTail); err != nil {
				return err
			}
		}
		return nil
	})
}

// foldTail packs the live readings of a sensor once there are at least so many.
func foldTail(ctx context.Context, tx *sql.Tx, packer *logger.Packer, sensor int64, q logger.Quantity, least int) error {
	var n int
	if err := tx.QueryRowContext(ctx, "SELECT count(*) FROM reading_tail WHERE sensor = ?", sensor).Scan(&n); err != nil || n < least {
		return err
	}
	tail, err := tailOf(ctx, tx, sensor, earliest, latest+1)
	if err != nil {
		return err
	}
	if _, err := putReadings(ctx, tx, packer, sensor, q, tail, false); err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, "DELETE FROM reading_tail WHERE sensor = ?", sensor)
	return err
}

func tailOf(ctx context.Context, db querier, sensor, from, to int64) ([]logger.Reading, error) {
	rows, err := db.QueryContext(ctx, "SELECT at, value FROM reading_tail WHERE sensor = ? AND at >= ? AND at < ? ORDER BY at", sensor, from, to)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []logger.Reading
	for rows.Next() {
		var r logger.Reading
		if err := rows.Scan(&r.At, &r.Value); err != nil {
			return nil, err
		}
		out = append(out, r)
	}
	return out, rows.Err()
}

// blocks reads the packed bytes of a sensor's months that touch a span.
func blocks(ctx context.Context, db querier, table string, sensor, from, to int64, each func(data []byte) error) error {
	rows, err := db.QueryContext(ctx, "SELECT bytes FROM "+table+" WHERE sensor = ? AND month BETWEEN ? AND ? ORDER BY month", sensor, monthOf(from), monthOf(to-1))
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var data sql.RawBytes
		if err := rows.Scan(&data); err != nil {
			return err
		}
		if err := each(data); err != nil {
			return err
		}
	}
	return rows.Err()
}

func span(from, to int64) (int64, int64) { return max(from, earliest), min(to, latest) }

// Readings returns the readings of a sensor from a time up to another, which is not
// in it, rising in time.
func (s *Store) Readings(ctx context.Context, sensor, from, to int64) ([]logger.Reading, error) {
	const doing = "reading readings"
	from, to = span(from, to)
	if from >= to {
		return nil, nil
	}
	packer, err := logger.NewPacker()
	if err != nil {
		return nil, s.fail(doing, err)
	}
	var out []logger.Reading
	err = s.viewing(ctx, func(tx *sql.Tx) error {
		if err := blocks(ctx, tx, "reading_block", sensor, from, to, func(data []byte) (err error) {
			out, err = packer.Unpack(out, data)
			return err
		}); err != nil {
			return err
		}
		tail, err := tailOf(ctx, tx, sensor, from, to)
		if err == nil && len(tail) > 0 {
			out, _ = logger.Merge(out, tail, 0, false)
		}
		return err
	})
	if err != nil {
		return nil, s.fail(doing, err)
	}
	return cut(out, from, to, func(r logger.Reading) int64 { return r.At }), nil
}

// viewing runs f on one state of the file.
func (s *Store) viewing(ctx context.Context, f func(*sql.Tx) error) error {
	tx, err := s.read.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return err
	}
	defer tx.Rollback() // nothing was written
	return f(tx)
}

func cut[T any](list []T, from, to int64, at func(T) int64) []T {
	by := func(v T, t int64) int { return cmp.Compare(at(v), t) }
	a, _ := slices.BinarySearchFunc(list, from, by)
	b, _ := slices.BinarySearchFunc(list, to, by)
	return list[a:b]
}

// HoursOf returns the hours of sensors from a time up to another, which is not in
// it, in the order of the sensors: mean, least and most, made when readings came in,
// so that a view of years need not read them all.
func (s *Store) HoursOf(ctx context.Context, sensors []int64, from, to int64) ([][]logger.Hour, error) {
	const doing = "reading readings by the hour"
	from, to = span(from, to)
	out := make([][]logger.Hour, len(sensors))
	if from >= to {
		return out, nil
	}
	packer, err := logger.NewPacker()
	if err != nil {
		return nil, s.fail(doing, err)
	}
	err = s.viewing(ctx, func(tx *sql.Tx) error {
		for i, id := range sensors {
			if err := blocks(ctx, tx, "hour_block", id, from, to, func(data []byte) (err error) {
				out[i], err = packer.UnpackHours(out[i], data)
				return err
			}); err != nil {
				return err
			}
			tail, err := tailOf(ctx, tx, id, from, to)
			if err != nil {
				return err
			}
			if len(tail) > 0 {
				out[i] = joinHours(out[i], logger.Hours(tail))
			}
			out[i] = cut(out[i], from, to, func(h logger.Hour) int64 { return h.At })
		}
		return nil
	})
	if err != nil {
		return nil, s.fail(doing, err)
	}
	return out, nil
}

// joinHours joins hours of packed and of live readings; an hour that both have
// counts all of them.
func joinHours(a, b []logger.Hour) []logger.Hour {
	all := slices.Concat(a, b)
	slices.SortStableFunc(all, func(x, y logger.Hour) int { return cmp.Compare(x.At, y.At) })
	out := all[:0]
	for _, h := range all {
		if n := len(out); n > 0 && out[n-1].At == h.At {
			k := &out[n-1]
			count := k.Count + h.Count
			k.Mean = (k.Mean*float64(k.Count) + h.Mean*float64(h.Count)) / float64(count)
			k.Count, k.Least, k.Most = count, math.Min(k.Least, h.Least), math.Max(k.Most, h.Most)
			continue
		}
		out = append(out, h)
	}
	return out
}

// Sensors returns all sensors with where they hung, by name.
func (s *Store) Sensors(ctx context.Context) ([]Sensor, error) {
	const doing = "reading the list of sensors"
	out := []Sensor{}
	err := s.viewing(ctx, func(tx *sql.Tx) error {
		rows, err := tx.QueryContext(ctx, `SELECT s.id, s.name, s.quantity, s.note,
			coalesce((SELECT sum(count) FROM reading_block WHERE sensor = s.id), 0) + (SELECT count(*) FROM reading_tail WHERE sensor = s.id),
			(SELECT min(first) FROM reading_block WHERE sensor = s.id), (SELECT max(last) FROM reading_block WHERE sensor = s.id),
			(SELECT min(at) FROM reading_tail WHERE sensor = s.id), (SELECT max(at) FROM reading_tail WHERE sensor = s.id)
			FROM sensor s ORDER BY s.name COLLATE NOCASE, s.quantity`)
		if err != nil {
			return err
		}
		defer rows.Close()
		at := map[int64]int{}
		for rows.Next() {
			var v Sensor
			var q int64
			var ends [4]sql.NullInt64
			if err := rows.Scan(&v.ID, &v.Name, &q, &v.Note, &v.Readings, &ends[0], &ends[1], &ends[2], &ends[3]); err != nil {
				return err
			}
			v.Quantity = logger.Quantity(q)
			if !v.Quantity.Valid() {
				return fmt.Errorf("sensor %d has the unknown quantity %d", v.ID, q)
			}
			v.Measures, v.Unit, v.Places = v.Quantity.String(), v.Quantity.Unit(), []Placement{}
			for i, e := range ends {
				switch {
				case !e.Valid:
				case v.First == 0 && v.Last == 0:
					v.First, v.Last = e.Int64, e.Int64
				case i%2 == 0:
					v.First = min(v.First, e.Int64)
				default:
					v.Last = max(v.Last, e.Int64)
				}
			}
			at[v.ID] = len(out)
			out = append(out, v)
		}
		if err := rows.Err(); err != nil {
			return err
		}
		places, err := tx.QueryContext(ctx, `SELECT sensor, since, hive, place, height_m, "column", note FROM placement ORDER BY sensor, since`)
		if err != nil {
			return err
		}
		defer places.Close()
		for places.Next() {
			var id int64
			var p Placement
			if err := places.Scan(&id, &p.Since, refInto{&p.Hive}, &p.Place, &p.Height, &p.Column, &p.Note); err != nil {
				return err
			}
			if i, ok := at[id]; ok {
				out[i].Places = append(out[i].Places, p)
			}
		}
		return places.Err()
	})
	if err != nil {
		return nil, s.fail(doing, err)
	}
	return out, nil
}

// PlaceSensor keeps where a sensor hung from a time on; a placement of that very
// time is replaced.
func (s *Store) PlaceSensor(ctx context.Context, sensor int64, p Placement) error {
	const doing = "placing a sensor"
	if err := p.Check(); err != nil {
		return &Error{Problem: Refused, File: s.path, Doing: doing, Err: err}
	}
	return s.transact(ctx, doing, func(tx *sql.Tx) error {
		var n int
		if err := tx.QueryRowContext(ctx, "SELECT count(*) FROM sensor WHERE id = ?", sensor).Scan(&n); err != nil {
			return err
		}
		if n == 0 {
			return &Error{Problem: NotFound, File: s.path, Doing: doing, Err: fmt.Errorf("there is no sensor %d", sensor)}
		}
		if p.Hive != "" {
			if err := tx.QueryRowContext(ctx, "SELECT count(*) FROM hive WHERE id = ?", string(p.Hive)).Scan(&n); err != nil {
				return err
			}
			if n == 0 {
				return &Error{Problem: NotFound, File: s.path, Doing: doing, Err: fmt.Errorf("there is no hive %s", p.Hive)}
			}
		}
		_, err := tx.ExecContext(ctx, `INSERT INTO placement (sensor, since, hive, place, height_m, "column", note) VALUES (?, ?, ?, ?, ?, ?, ?)
			ON CONFLICT (sensor, since) DO UPDATE SET hive = excluded.hive, place = excluded.place, height_m = excluded.height_m, "column" = excluded."column", note = excluded.note`,
			sensor, p.Since, ref(p.Hive), p.Place, p.Height, p.Column, p.Note)
		return err
	})
}

// RenameSensor gives a sensor another name.
func (s *Store) RenameSensor(ctx context.Context, sensor int64, name string) error {
	const doing = "renaming a sensor"
	name = strings.TrimSpace(name)
	if name == "" || len(name) > 200 {
		return &Error{Problem: Refused, File: s.path, Doing: doing, Err: fmt.Errorf("name %q, accepted: 1 to 200 characters", name)}
	}
	return s.changeSensor(ctx, doing, "UPDATE sensor SET name = ? WHERE id = ?", name, sensor)
}

// RemoveSensor removes a sensor with all its readings for good.
func (s *Store) RemoveSensor(ctx context.Context, sensor int64) error {
	return s.changeSensor(ctx, "removing a sensor", "DELETE FROM sensor WHERE id = ?", sensor)
}

func (s *Store) changeSensor(ctx context.Context, doing, statement string, args ...any) error {
	return s.transact(ctx, doing, func(tx *sql.Tx) error {
		r, err := tx.ExecContext(ctx, statement, args...)
		if err != nil {
			return err
		}
		if n, err := r.RowsAffected(); err != nil || n == 0 {
			return cmp.Or(err, error(&Error{Problem: NotFound, File: s.path, Doing: doing, Err: fmt.Errorf("there is no sensor %v", args[len(args)-1])}))
		}
		return nil
	})
}

// LoggerMap returns a saved column map by name.
func (s *Store) LoggerMap(ctx context.Context, name string) (text string, err error) {
	const doing = "reading a column map"
	err = s.read.QueryRowContext(ctx, "SELECT text FROM logger_map WHERE name = ?", name).Scan(&text)
	if errors.Is(err, sql.ErrNoRows) {
		return "", &Error{Problem: NotFound, File: s.path, Doing: doing, Err: fmt.Errorf("there is no map %q", name)}
	}
	return text, s.fail(doing, err)
}

// LoggerMaps returns the names of the saved column maps.
func (s *Store) LoggerMaps(ctx context.Context) ([]string, error) {
	const doing = "reading the column maps"
	rows, err := s.read.QueryContext(ctx, "SELECT name FROM logger_map ORDER BY name")
	if err != nil {
		return nil, s.fail(doing, err)
	}
	defer rows.Close()
	names := []string{}
	for rows.Next() {
		var n string
		if err := rows.Scan(&n); err != nil {
			return nil, s.fail(doing, err)
		}
		names = append(names, n)
	}
	return names, s.fail(doing, rows.Err())
}

// SetLoggerMap saves a column map under a name; it must be one that can be read
// with.
func (s *Store) SetLoggerMap(ctx context.Context, name, text string) error {
	const doing = "saving a column map"
	name = strings.TrimSpace(name)
	if name == "" || len(name) > 100 {
		return &Error{Problem: Refused, File: s.path, Doing: doing, Err: fmt.Errorf("name %q, accepted: 1 to 100 characters", name)}
	}
	if _, err := logger.ParseMap([]byte(text)); err != nil {
		return &Error{Problem: Refused, File: s.path, Doing: doing, Err: err}
	}
	return s.transact(ctx, doing, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, "INSERT INTO logger_map (name, text, changed) VALUES (?, ?, ?) ON CONFLICT (name) DO UPDATE SET text = excluded.text, changed = excluded.changed", name, text, timeText(s.stamp()))
		return err
	})
}

// LoggerFile is a file that was taken in.
type LoggerFile struct {
	Name   string          `json:"name"`
	Taken  time.Time       `json:"taken"`
	Report json.RawMessage `json:"report"`
}

// LoggerFiles returns the files that were taken in, the latest first.
func (s *Store) LoggerFiles(ctx context.Context) ([]LoggerFile, error) {
	const doing = "reading the list of files taken in"
	rows, err := s.read.QueryContext(ctx, "SELECT name, taken, report FROM logger_file ORDER BY id DESC")
	if err != nil {
		return nil, s.fail(doing, err)
	}
	defer rows.Close()
	out := []LoggerFile{}
	for rows.Next() {
		var f LoggerFile
		var report string
		if err := rows.Scan(&f.Name, timeInto{&f.Taken}, &report); err != nil {
			return nil, s.fail(doing, err)
		}
		f.Report = json.RawMessage(report)
		out = append(out, f)
	}
	return out, s.fail(doing, rows.Err())
}

// WriteReadings writes the readings of a sensor from a time up to another as CSV,
// a row for each in UTC, as a map with the columns time and value reads them back.
func (s *Store) WriteReadings(ctx context.Context, w io.Writer, v Sensor, from, to int64) error {
	readings, err := s.Readings(ctx, v.ID, from, to)
	if err != nil {
		return err
	}
	b := []byte("time,value [" + v.Unit + "]\n")
	for _, r := range readings {
		b = time.Unix(r.At, 0).UTC().AppendFormat(b, time.RFC3339)
		b = fmt.Appendf(b, ",%v\n", r.Value)
		if len(b) > 1<<16 {
			if _, err := w.Write(b); err != nil {
				return err
			}
			b = b[:0]
		}
	}
	_, err = w.Write(b)
	return err
}

// Sensed is what a sensor read at one of its places.
type Sensed struct {
	Sensor   Sensor
	Place    Placement
	Readings []logger.Reading // rising in time
}

// SensedIn returns what the sensors read that hung in a hive, stood under it, or hung
// outdoors of it or of no hive, from a time up to another, and the names of sensors
// that have no place. A sensor that was moved counts once for each place.
func (s *Store) SensedIn(ctx context.Context, hive yard.ID, from, to int64) (sensed []Sensed, without []string, err error) {
	all, err := s.Sensors(ctx)
	if err != nil {
		return nil, nil, err
	}
	for _, v := range all {
		for i, p := range v.Places {
			until := int64(math.MaxInt64)
			if i+1 < len(v.Places) {
				until = v.Places[i+1].Since
			}
			if p.Place == Away || p.Hive != hive && !(p.Place == Outdoors && p.Hive == "") {
				continue
			}
			begin, end := max(p.Since, from), min(until, to)
			if begin >= end {
				continue
			}
			readings, err := s.Readings(ctx, v.ID, begin, end)
			if err != nil {
				return nil, nil, err
			}
			if len(readings) > 0 {
				sensed = append(sensed, Sensed{v, p, readings})
			}
		}
		if len(v.Places) == 0 {
			without = append(without, v.Name)
		}
	}
	return sensed, without, nil
}
