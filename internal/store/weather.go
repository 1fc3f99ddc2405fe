package store

import (
	"bytes"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"time"

	"hackle/climate"
	"hackle/yard"
)

// Weather describes a series of weather that is kept.
type Weather struct {
	ID        yard.ID   `json:"id"`
	Name      string    `json:"name"`
	Source    string    `json:"source"`
	Added     time.Time `json:"added"`
	Hash      string    `json:"hash"`          // SHA-256 of the series, hexadecimal
	Latitude  float64   `json:"latitude_deg"`  // [deg]
	Longitude float64   `json:"longitude_deg"` // [deg]
	Height    float64   `json:"height_m"`      // [m]
	Start     time.Time `json:"start"`
	Hours     int       `json:"hours"`
	Typical   bool      `json:"typical"`
}

// series is climate.Series as it is kept: columns, because that packs well. A
// change of its shape takes a new version.
type series struct {
	Version       int              `json:"version"`
	Name          string           `json:"name"`
	Latitude      float64          `json:"latitude_deg"`
	Longitude     float64          `json:"longitude_deg"`
	Height        float64          `json:"height_m"`
	ZoneSeconds   int64            `json:"zone_s"`
	Start         string           `json:"start"`
	MidOffsetNano int64            `json:"mid_offset_ns"`
	Typical       bool             `json:"typical"`
	HasRain       bool             `json:"has_rain"`
	HasSnow       bool             `json:"has_snow"`
	Source        string           `json:"source"`
	Repairs       []climate.Repair `json:"repairs"`
	Hours         int              `json:"hours"`
	Columns       [][]float64      `json:"columns"` // in the order of columnsOf
}

// columnsOf returns the values of an hour in the order they are kept.
func columnsOf(h *climate.Hour) []*float64 {
	return []*float64{
		&h.TempAir, &h.RelHumidity, &h.Pressure, &h.WindSpeed, &h.WindFrom, &h.GlobalHorizontal,
		&h.DirectNormal, &h.DiffuseHorizontal, &h.SkyLongWave, &h.Rain, &h.SnowDepth,
	}
}

// encodeSeries writes a series so that equal series give equal bytes.
func encodeSeries(s *climate.Series) ([]byte, error) {
	out := series{
		Version: 1, Name: s.Name, Latitude: s.Latitude, Longitude: s.Longitude, Height: s.Height,
		ZoneSeconds: int64(s.Zone / time.Second), Start: s.Start.Format(time.RFC3339Nano), MidOffsetNano: int64(s.MidOffset),
		Typical: s.Typical, HasRain: s.HasRain, HasSnow: s.HasSnow, Source: s.Source, Repairs: s.Repairs, Hours: len(s.Hours),
	}
	out.Columns = make([][]float64, len(columnsOf(new(climate.Hour))))
	for i := range s.Hours {
		for c, v := range columnsOf(&s.Hours[i]) {
			out.Columns[c] = append(out.Columns[c], *v)
		}
	}
	return json.Marshal(out)
}

func decodeSeries(text []byte) (*climate.Series, error) {
	var in series
	if err := json.Unmarshal(text, &in); err != nil {
		return nil, err
	}
	if in.Version != 1 || len(in.Columns) != len(columnsOf(new(climate.Hour))) || in.Hours < 0 {
		return nil, fmt.Errorf("a series of version %d with %d columns", in.Version, len(in.Columns))
	}
	start, err := time.Parse(time.RFC3339Nano, in.Start)
	if err != nil {
		return nil, err
	}
	zone := time.Duration(in.ZoneSeconds) * time.Second
	s := &climate.Series{
		Name: in.Name, Latitude: in.Latitude, Longitude: in.Longitude, Height: in.Height, Zone: zone,
		Start: start.In(time.FixedZone("", int(in.ZoneSeconds))), MidOffset: time.Duration(in.MidOffsetNano),
		Typical: in.Typical, HasRain: in.HasRain, HasSnow: in.HasSnow, Source: in.Source, Repairs: in.Repairs,
	}
	for c, column := range in.Columns {
		if len(column) != in.Hours {
			return nil, fmt.Errorf("column %d has %d of %d hours", c+1, len(column), in.Hours)
		}
	}
	s.Hours = make([]climate.Hour, in.Hours)
	for i := range s.Hours {
		for c, v := range columnsOf(&s.Hours[i]) {
			*v = in.Columns[c][i]
		}
	}
	return s, nil
}

const weatherColumns = "id, name, source, added, hash, latitude_deg, longitude_deg, height_m, start, hours, typical"

func (w *Weather) into() []any {
	return []any{&w.ID, &w.Name, &w.Source, timeInto{&w.Added}, &w.Hash, &w.Latitude, &w.Longitude, &w.Height, timeInto{&w.Start}, &w.Hours, &w.Typical}
}

// AddWeather keeps a series. One that is kept already is not kept twice.
func (s *Store) AddWeather(ctx context.Context, w *climate.Series) (Weather, error) {
	const doing = "keeping the weather"
	text, err := encodeSeries(w)
	if err != nil {
		return Weather{}, s.fail(doing, err)
	}
	id, err := yard.NewID()
	if err != nil {
		return Weather{}, s.fail(doing, err)
	}
	hash := seriesHash(text)
	var kept Weather
	err = s.transact(ctx, doing, func(tx *sql.Tx) error {
		err := tx.QueryRowContext(ctx, "SELECT "+weatherColumns+" FROM weather WHERE hash = ? ORDER BY id LIMIT 1", hash).Scan(kept.into()...)
		if !errors.Is(err, sql.ErrNoRows) {
			return err
		}
		kept = Weather{ID: id, Name: w.Name, Source: w.Source, Added: s.stamp(), Hash: hash, Latitude: w.Latitude, Longitude: w.Longitude,
			Height: w.Height, Start: w.Start, Hours: len(w.Hours), Typical: w.Typical}
		return insertWeather(ctx, tx, kept, text)
	})
	return kept, err
}

func seriesHash(text []byte) string {
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:])
}

func insertWeather(ctx context.Context, tx *sql.Tx, w Weather, text []byte) error {
	var packed bytes.Buffer
	z := gzip.NewWriter(&packed)
	if _, err := z.Write(text); err != nil {
		return err
	}
	if err := z.Close(); err != nil {
		return err
	}
	_, err := tx.ExecContext(ctx, "INSERT INTO weather ("+weatherColumns+", series) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
		string(w.ID), w.Name, w.Source, timeText(w.Added), w.Hash, w.Latitude, w.Longitude, w.Height, timeText(w.Start), w.Hours, w.Typical, packed.Bytes())
	return err
}

// Weathers returns what series are kept, by name.
func (s *Store) Weathers(ctx context.Context) ([]Weather, error) {
	const doing = "reading the list of weather"
	rows, err := s.read.QueryContext(ctx, "SELECT "+weatherColumns+" FROM weather ORDER BY name COLLATE NOCASE, id")
	if err != nil {
		return nil, s.fail(doing, err)
	}
	defer rows.Close()
	all := []Weather{}
	for rows.Next() {
		var w Weather
		if err := rows.Scan(w.into()...); err != nil {
			return nil, s.fail(doing, err)
		}
		all = append(all, w)
	}
	return all, s.fail(doing, rows.Err())
}

// WeatherSeries returns a kept series.
func (s *Store) WeatherSeries(ctx context.Context, id yard.ID) (*climate.Series, error) {
	const doing = "reading the weather"
	text, err := s.weatherText(ctx, id)
	if err != nil {
		return nil, err
	}
	w, err := decodeSeries(text)
	return w, s.fail(doing, err)
}

func (s *Store) weatherText(ctx context.Context, id yard.ID) ([]byte, error) {
	const doing = "reading the weather"
	var packed []byte
	err := s.read.QueryRowContext(ctx, "SELECT series FROM weather WHERE id = ?", string(id)).Scan(&packed)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, &Error{Problem: NotFound, File: s.path, Doing: doing, Err: fmt.Errorf("there is no weather %s", id)}
	} else if err != nil {
		return nil, s.fail(doing, err)
	}
	text, err := unpack(packed)
	return text, s.fail(doing, err)
}

func unpack(packed []byte) ([]byte, error) {
	z, err := gzip.NewReader(bytes.NewReader(packed))
	if err != nil {
		return nil, err
	}
	return io.ReadAll(z)
}

// RemoveWeather removes a series for good, unless a yard has chosen it.
func (s *Store) RemoveWeather(ctx context.Context, id yard.ID) error {
	const doing = "removing the weather"
	return s.transact(ctx, doing, func(tx *sql.Tx) error {
		var users int
		if err := tx.QueryRowContext(ctx, "SELECT count(*) FROM yard WHERE weather = ? AND deleted = 0", "series:"+string(id)).Scan(&users); err != nil {
			return err
		}
		if users > 0 {
			return &Error{Problem: Conflict, File: s.path, Doing: doing, Err: fmt.Errorf("%d yards have chosen it", users), Todo: "choose other weather for them first"}
		}
		_, err := tx.ExecContext(ctx, "DELETE FROM weather WHERE id = ?", string(id))
		return err
	})
}
