package store

import (
	"context"
	"database/sql"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"hackle/yard"
)

var update = flag.Bool("update", false, "write the fixture of the present schema version anew")

// fixture names the file with the rows of a full notebook of a schema version, as
// SQL. That of a published version is never written anew: it is what such a file
// held.
func fixture(version int) string {
	return filepath.Join("testdata", fmt.Sprintf("version-%d.sql", version))
}

// atVersion makes a yard file as the program of a schema version left it.
func atVersion(t *testing.T, version int) string {
	t.Helper()
	rows, err := os.ReadFile(fixture(version))
	if err != nil {
		t.Fatalf("%v: a new schema version needs a fixture: go test ./internal/store -run Older -update", err)
	}
	all, err := steps()
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "older.sqlite")
	db, err := connect(path, time.Second, "rwc", "immediate")
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	db.SetMaxOpenConns(1)
	if _, err := db.Exec("PRAGMA journal_mode = WAL"); err != nil {
		t.Fatal(err)
	}
	tx, err := db.Begin()
	if err != nil {
		t.Fatal(err)
	}
	if err := applySteps(t.Context(), tx, all[:version]); err != nil {
		t.Fatal(err)
	}
	if _, err := tx.Exec(string(rows)); err != nil {
		t.Fatal(err)
	}
	if err := tx.Commit(); err != nil {
		t.Fatal(err)
	}
	return path
}

// TestOlderFilesAreRead opens a yard file of every schema version there was.
func TestOlderFilesAreRead(t *testing.T) {
	if *update {
		writeFixture(t)
	}
	for version := 1; version <= SchemaVersion(); version++ {
		t.Run(fmt.Sprint(version), func(t *testing.T) {
			path := atVersion(t, version)
			s, err := Open(t.Context(), path, Options{Existing: true})
			if err != nil {
				t.Fatal(err)
			}
			defer s.Close()
			n, err := s.Notebook(t.Context(), true)
			if err != nil {
				t.Fatal(err)
			}
			if len(n.Yards) != 1 || len(n.Hives) != 2 || len(n.Builds) != 1 || len(n.Colonies) != 3 || len(n.Plans) != 1 || len(n.Records) != 8 {
				t.Errorf("found %d yards, %d hives, %d builds, %d colonies, %d plans, %d records; wanted 1, 2, 1, 3, 1, 8",
					len(n.Yards), len(n.Hives), len(n.Builds), len(n.Colonies), len(n.Plans), len(n.Records))
			}
			y := n.Yards[0]
			if y.Name != "Invented orchard" || y.Latitude != 44.5 {
				t.Errorf("the yard is %+v", y)
			}
			weather := strings.TrimPrefix(y.Weather, "series:")
			if w, err := s.WeatherSeries(t.Context(), yard.ID(weather)); err != nil || len(w.Hours) != 48 {
				t.Errorf("its weather: %v", err)
			}
			found := false
			for _, r := range n.Records {
				if kg, ok := r.Number("reading_kg"); ok {
					found = kg == 23.1 && r.Revision == 2
				}
			}
			if !found {
				t.Error("the edited weight is not there")
			}
			if sensors, err := s.Sensors(t.Context()); err != nil || version >= 2 && (len(sensors) != 1 || sensors[0].Readings != 2 || len(sensors[0].Places) != 1) {
				t.Errorf("its sensors: %+v, %v; wanted one with two readings and a place", sensors, err)
			}
			report, err := Check(t.Context(), path)
			if err != nil || report.Schema != SchemaVersion() {
				t.Errorf("after the migration the check says %+v, %v", report, err)
			}
			kept := fmt.Sprintf("%s.version-%d", path, version)
			_, err = os.Stat(kept)
			if older := version < SchemaVersion(); older != (err == nil) {
				t.Errorf("the file as it was: %v; wanted it kept: %v", err, older)
			}
		})
	}
}

// TestNewerFilesAreLeftAlone opens a file that a later program wrote.
func TestNewerFilesAreLeftAlone(t *testing.T) {
	s := open(t, Options{})
	if _, err := s.write.Exec(fmt.Sprintf("PRAGMA user_version = %d", SchemaVersion()+1)); err != nil {
		t.Fatal(err)
	}
	s.Close()
	before := listing(t, filepath.Dir(s.Path()))
	if _, err := Open(t.Context(), s.Path(), Options{}); !errors.Is(err, TooNew) {
		t.Errorf("got %v, wanted that it is too new", err)
	}
	if after := listing(t, filepath.Dir(s.Path())); after[filepath.Base(s.Path())] != before[filepath.Base(s.Path())] {
		t.Error("the file was changed")
	}
}

// TestFailedMigrationChangesNothing runs a step that fails half way.
func TestFailedMigrationChangesNothing(t *testing.T) {
	path := atVersion(t, 1)
	s, err := Open(t.Context(), path, Options{Existing: true})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	all, err := steps()
	if err != nil {
		t.Fatal(err)
	}
	next := append(all[:len(all):len(all)], step{version: len(all) + 1, name: "bad.sql", sql: "DELETE FROM version; DELETE FROM record; CREATE TABLE yard (id)"})
	before := export(t, s)
	err = s.transact(t.Context(), "trying", func(tx *sql.Tx) error { return applySteps(context.Background(), tx, next) })
	if err == nil || !strings.Contains(err.Error(), "bad.sql") {
		t.Errorf("got %v, wanted an error that names the step", err)
	}
	if got := export(t, s); stamped(got) != stamped(before) {
		t.Error("the failed step changed the file")
	}
	if _, err := Check(t.Context(), path); err != nil {
		t.Error(err)
	}
}

// writeFixture writes the rows of a full notebook of the present version as SQL.
func writeFixture(t *testing.T) {
	t.Helper()
	s := open(t, Options{Now: fixedClock})
	full(t, s)
	var b strings.Builder
	b.WriteString("-- An invented notebook, as this schema version kept it.\n")
	tables, err := s.read.Query("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%' ORDER BY rowid")
	if err != nil {
		t.Fatal(err)
	}
	defer tables.Close()
	for tables.Next() {
		var table string
		if err := tables.Scan(&table); err != nil {
			t.Fatal(err)
		}
		var columns, quoted string
		if err := s.read.QueryRow(`SELECT group_concat('"' || name || '"', ', '), group_concat('quote("' || name || '")', ' || '', '' || ') FROM pragma_table_info(?)`, table).Scan(&columns, &quoted); err != nil {
			t.Fatal(err)
		}
		rows, err := s.read.Query("SELECT " + quoted + " FROM " + table + " ORDER BY 1")
		if err != nil {
			t.Fatal(err)
		}
		for rows.Next() {
			var values string
			if err := rows.Scan(&values); err != nil {
				t.Fatal(err)
			}
			fmt.Fprintf(&b, "INSERT INTO %s (%s) VALUES (%s);\n", table, columns, values)
		}
		if err := rows.Close(); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.MkdirAll("testdata", 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(fixture(SchemaVersion()), []byte(b.String()), 0o644); err != nil {
		t.Fatal(err)
	}
}
