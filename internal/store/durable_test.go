package store

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"hackle/yard"
)

// writerRole makes the test binary a process that writes to the yard file of this
// path until it is killed.
const writerRole = "HACKLE_TEST_WRITES_TO"

func TestMain(m *testing.M) {
	if path := os.Getenv(writerRole); path != "" {
		if err := writeOn(path); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	if path := os.Getenv(readingRole); path != "" {
		if err := writeReadingsOn(path); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// writeOn keeps records, edits and batches without end, and says on its output what
// was acknowledged: the ID and the revision, a line each.
func writeOn(path string) error {
	ctx := context.Background()
	s, err := Open(ctx, path, Options{})
	if err != nil {
		return err
	}
	hives, err := s.Hives.All(ctx, false)
	if err != nil {
		return err
	}
	fresh := func() (yard.Record, error) {
		id, err := yard.NewID()
		return yard.Record{Meta: yard.Meta{ID: id}, Kind: yard.Weight, At: day(2025, 2, 3), Hive: hives[0].ID,
			Values: map[string]any{"reading_kg": 30.0}, Note: strings.Repeat("invented ", 40)}, err
	}
	for i := 0; ; i++ {
		if _, err := fmt.Println("trying"); err != nil {
			return err
		}
		var kept []yard.Record
		if i%4 == 3 {
			batch := make([]yard.Record, 20)
			for j := range batch {
				if batch[j], err = fresh(); err != nil {
					return err
				}
			}
			kept, err = s.Records.PutAll(ctx, batch)
		} else {
			var r yard.Record
			if r, err = fresh(); err != nil {
				return err
			}
			r, err = s.Records.Put(ctx, r)
			if err == nil && i%4 == 1 {
				r.Values = map[string]any{"reading_kg": 31.0}
				r, err = s.Records.Put(ctx, r)
			}
			kept = []yard.Record{r}
		}
		if err != nil {
			return err
		}
		var b strings.Builder
		for _, r := range kept {
			fmt.Fprintf(&b, "kept %s %d\n", r.ID, r.Revision)
		}
		if _, err := os.Stdout.WriteString(b.String()); err != nil {
			return err
		}
	}
}

// acknowledgedUntilKilled runs a writer, kills it after a time drawn at random since
// it began to write, and returns what it had acknowledged.
func acknowledgedUntilKilled(t *testing.T, path string, after time.Duration) map[yard.ID]int {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), writerRole+"="+path)
	var trouble strings.Builder
	cmd.Stderr = &trouble
	kept := map[yard.ID]int{}
	out, err := cmd.StdoutPipe()
	if err == nil {
		err = cmd.Start()
	}
	if err != nil {
		t.Error(err)
		return kept
	}
	lines := bufio.NewScanner(out)
	started := false
	for lines.Scan() {
		if !started {
			started = true
			time.AfterFunc(after, func() { cmd.Process.Kill() })
		}
		var id yard.ID
		var revision int
		// The last line may be torn: what it would say was not acknowledged.
		if n, _ := fmt.Sscanf(lines.Text(), "kept %s %d", &id, &revision); n == 2 && id.Valid() {
			kept[id] = revision
		}
	}
	cmd.Wait() // it was killed, which is no success
	if trouble.Len() > 0 {
		t.Errorf("the writer failed: %s", trouble.String())
	}
	return kept
}

// TestKilledWritersLoseNothing kills a writing process again and again, and looks
// each time for every record that it had acknowledged.
func TestKilledWritersLoseNothing(t *testing.T) {
	s := open(t, Options{})
	furnish(t, s)
	path := s.Path()
	s.Close()
	random := rand.New(rand.NewPCG(8, 2026))
	all := map[yard.ID]int{}
	kills := draws(200)
	for range kills {
		fresh := acknowledgedUntilKilled(t, path, time.Duration(random.IntN(50_000))*time.Microsecond)
		r, err := Open(t.Context(), path, Options{Existing: true})
		if err != nil {
			t.Fatal(err)
		}
		for id, revision := range fresh {
			all[id] = revision
			if got, err := r.Records.Get(t.Context(), id); err != nil || got.Revision < revision {
				t.Fatalf("an acknowledged record is lost: %s, revision %d: %+v, %v", id, revision, got, err)
			}
		}
		r.Close()
	}
	report, err := Check(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	r, err := Open(t.Context(), path, Options{Existing: true})
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	weights, err := r.FindRecords(t.Context(), RecordFilter{Kinds: []yard.Kind{yard.Weight}})
	if err != nil {
		t.Fatal(err)
	}
	found := map[yard.ID]int{}
	for _, w := range weights {
		found[w.ID] = w.Revision
	}
	for id, revision := range all {
		if found[id] < revision {
			t.Errorf("record %s has revision %d, %d was acknowledged", id, found[id], revision)
		}
	}
	if len(all) == 0 {
		t.Error("nothing was acknowledged: the writers did not write")
	}
	t.Logf("%d kills, %d records acknowledged, all found; %d records in the file, %d bytes", kills, len(all), len(weights), report.Bytes)
}

// TestKilledAtTheFirstOpening kills processes that make a new yard file: whatever
// they leave opens again.
func TestKilledAtTheFirstOpening(t *testing.T) {
	random := rand.New(rand.NewPCG(9, 2026))
	dir := t.TempDir()
	left := 0
	for i := range draws(40) {
		path := filepath.Join(dir, fmt.Sprintf("%d.sqlite", i))
		cmd := exec.Command(os.Args[0])
		cmd.Env = append(os.Environ(), writerRole+"="+path)
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		for range 2000 { // until the file is there
			if _, err := os.Stat(path); err == nil {
				left++
				break
			}
			time.Sleep(200 * time.Microsecond)
		}
		time.Sleep(time.Duration(random.IntN(8000)) * time.Microsecond)
		cmd.Process.Kill()
		cmd.Wait() // it was killed, or found no hive to write to
		s, err := Open(t.Context(), path, Options{})
		if err != nil {
			t.Fatal(err)
		}
		furnish(t, s)
		s.Close()
		if _, err := Check(t.Context(), path); err != nil {
			t.Fatal(err)
		}
	}
	if left == 0 {
		t.Error("no process came as far as making its file")
	}
}

// TestTwoProcessesWriteAtOnce runs two writers on one file, backs it up meanwhile,
// and kills both.
func TestTwoProcessesWriteAtOnce(t *testing.T) {
	s := open(t, Options{})
	furnish(t, s)
	kept := make(chan map[yard.ID]int, 2)
	for range cap(kept) {
		go func() { kept <- acknowledgedUntilKilled(t, s.Path(), 700*time.Millisecond) }()
	}
	if _, err := s.Backup(t.Context(), filepath.Join(t.TempDir(), "backup.sqlite")); err != nil {
		t.Error(err)
	}
	n := 0
	for range cap(kept) {
		for id, revision := range <-kept {
			n++
			if got, err := s.Records.Get(t.Context(), id); err != nil || got.Revision < revision {
				t.Errorf("an acknowledged record is lost: %+v, %v", got, err)
			}
		}
	}
	if _, err := Check(t.Context(), s.Path()); err != nil {
		t.Error(err)
	}
	if n == 0 {
		t.Error("nothing was acknowledged")
	}
}

// TestWritesAreSynced holds the setting that a power cut, which no test can make,
// depends on.
func TestWritesAreSynced(t *testing.T) {
	s := open(t, Options{})
	var sync, keys int
	var mode string
	for q, into := range map[string]any{"PRAGMA synchronous": &sync, "PRAGMA foreign_keys": &keys, "PRAGMA journal_mode": &mode} {
		if err := s.write.QueryRow(q).Scan(into); err != nil {
			t.Fatal(err)
		}
	}
	if sync != 2 || keys != 1 || mode != "wal" { // 2 is FULL
		t.Errorf("synchronous %d, foreign keys %d, journal %s; wanted 2, 1, wal", sync, keys, mode)
	}
}

// weigh keeps one weight.
func weigh(s *Store, hive yard.ID, note string) (yard.ID, error) {
	id, err := yard.NewID()
	if err != nil {
		return id, err
	}
	_, err = s.Records.Put(context.Background(), yard.Record{Meta: yard.Meta{ID: id}, Kind: yard.Weight, At: day(2025, 2, 3), Hive: hive,
		Values: map[string]any{"reading_kg": 30.0}, Note: note})
	return id, err
}

// fillUp keeps records until one is refused and returns those that were not.
func fillUp(t *testing.T, s *Store, hive yard.ID) (kept []yard.ID, err error) {
	t.Helper()
	for range 100_000 {
		id, err := weigh(s, hive, strings.Repeat("invented ", 100))
		if err != nil {
			return kept, err
		}
		kept = append(kept, id)
	}
	t.Fatal("it never became full")
	return nil, nil
}

func allThere(t *testing.T, s *Store, ids []yard.ID) {
	t.Helper()
	for _, id := range ids {
		if _, err := s.Records.Get(t.Context(), id); err != nil {
			t.Fatalf("an acknowledged record is lost: %v", err)
		}
	}
}

func mustTell(t *testing.T, err error, problem Problem, path string) {
	t.Helper()
	var known *Error
	if !errors.Is(err, problem) || !errors.As(err, &known) || !strings.Contains(err.Error(), path) || known.Todo == "" {
		t.Errorf("got %v, wanted an error that says %q, the path, and what to do", err, problem)
	}
}

// TestFullFile bounds the file itself, as a full disk does.
func TestFullFile(t *testing.T) {
	s := open(t, Options{})
	_, hives, _ := furnish(t, s)
	if _, err := s.write.Exec("PRAGMA max_page_count = 120"); err != nil {
		t.Fatal(err)
	}
	kept, err := fillUp(t, s, hives[0].ID)
	mustTell(t, err, Full, s.Path())
	allThere(t, s, kept)
	if _, err := s.write.Exec("PRAGMA max_page_count = 100000"); err != nil {
		t.Fatal(err)
	}
	if _, err := weigh(s, hives[0].ID, "room again"); err != nil {
		t.Errorf("with room again: %v", err)
	}
	if _, err := Check(t.Context(), s.Path()); err != nil {
		t.Error(err)
	}
}

func TestLockedFile(t *testing.T) {
	s := open(t, Options{Wait: 20 * time.Millisecond})
	_, hives, _ := furnish(t, s)
	other, err := connect(s.Path(), time.Second, "rw", "immediate")
	if err != nil {
		t.Fatal(err)
	}
	defer other.Close()
	tx, err := other.Begin()
	if err != nil {
		t.Fatal(err)
	}
	_, err = weigh(s, hives[0].ID, "")
	mustTell(t, err, Busy, s.Path())
	if _, err := s.Hives.All(t.Context(), false); err != nil {
		t.Errorf("reading beside a writer: %v", err)
	}
	if err := tx.Rollback(); err != nil {
		t.Fatal(err)
	}
	if _, err := weigh(s, hives[0].ID, ""); err != nil {
		t.Errorf("after the other had finished: %v", err)
	}
}

func TestCancelledWriteKeepsNothing(t *testing.T) {
	s := open(t, Options{})
	y, _, _ := furnish(t, s)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	y.Note = "too late"
	if _, err := s.Yards.Put(ctx, y); !errors.Is(err, context.Canceled) {
		t.Errorf("got %v, wanted that it was cancelled", err)
	}
	if now, err := s.Yards.Get(t.Context(), y.ID); err != nil || now.Note != "" {
		t.Errorf("the yard is %+v, %v", now, err)
	}
}

// TestDamagedFile overwrites a random page of a yard file: opening, checking and
// reading never end the program, and the check finds it, unless the page is one
// that nothing stands on.
func TestDamagedFile(t *testing.T) {
	s := open(t, Options{})
	full(t, s)
	backup := filepath.Join(t.TempDir(), "whole.sqlite")
	if _, err := s.Backup(t.Context(), backup); err != nil {
		t.Fatal(err)
	}
	want := export(t, s)
	whole, err := os.ReadFile(backup)
	if err != nil {
		t.Fatal(err)
	}
	random := rand.New(rand.NewPCG(10, 2026))
	const page = 4096
	found := 0
	for range draws(150) {
		torn := append([]byte(nil), whole...)
		at := random.IntN(len(torn)/page) * page
		for i := range 64 + random.IntN(page-64) {
			torn[at+i] = byte(random.Uint32())
		}
		path := filepath.Join(t.TempDir(), "torn.sqlite")
		if err := os.WriteFile(path, torn, 0o600); err != nil {
			t.Fatal(err)
		}
		_, err := Check(t.Context(), path)
		if err != nil {
			found++
			var known *Error
			if !errors.As(err, &known) || known.Todo == "" {
				t.Errorf("page %d: %v tells no remedy", at/page, err)
			}
		}
		r, openErr := Open(t.Context(), path, Options{Existing: true})
		if openErr != nil {
			continue
		}
		var b strings.Builder
		exportErr := r.Export(t.Context(), &b)
		if err == nil && (exportErr != nil || stamped(b.String()) != stamped(want)) {
			t.Errorf("page %d: the check found nothing, but the content differs (%v)", at/page, exportErr)
		}
		r.Close()
	}
	if found == 0 {
		t.Error("no damage was found")
	}
	t.Logf("%d of %d damages found", found, draws(150))
}

// BenchmarkAcknowledgedWrites counts records kept one at a time, each on the disk
// before the next.
func BenchmarkAcknowledgedWrites(b *testing.B) {
	s, err := Open(b.Context(), filepath.Join(b.TempDir(), "yard.sqlite"), Options{})
	if err != nil {
		b.Fatal(err)
	}
	defer s.Close()
	_, hives, _ := furnish(b, s)
	for b.Loop() {
		if _, err := weigh(s, hives[0].ID, "invented"); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "writes/s")
}
