package store

import (
	"bufio"
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"

	"hackle/logger"
)

// readingRole makes a test process write readings to the file it names.
const readingRole = "HACKLE_TEST_READINGS"

// writeReadingsOn keeps live readings and now and then takes in a file, without end,
// and says how many instants from 1 January 2025 on were acknowledged.
func writeReadingsOn(path string) error {
	ctx := context.Background()
	s, err := Open(ctx, path, Options{})
	if err != nil {
		return err
	}
	m, err := logger.ParseMap([]byte("version: 1\ntime: {column: time, layout: unix}\ncolumns: [{column: T, sensor: oak, quantity: temperature, unit: °C}]\n"))
	if err != nil {
		return err
	}
	all, err := s.Sensors(ctx)
	if err != nil {
		return err
	}
	next := int64(0)
	for _, v := range all {
		if v.Readings > 0 {
			next = (v.Last-readingsBegin)/60 + 1
		}
	}
	for i := 0; ; i++ {
		if _, err := fmt.Println("trying"); err != nil {
			return err
		}
		const batch = 700 // so that the tail is packed again and again
		if i%5 == 4 {
			var b strings.Builder
			b.WriteString("time,T\n")
			for range batch {
				fmt.Fprintf(&b, "%d,%.2f\n", readingsBegin+next*60, readingAt(next))
				next++
			}
			_, err = s.ImportReadings(ctx, "oak.csv", strings.NewReader(b.String()), m, ImportOptions{})
		} else {
			var some []Live
			for range batch {
				some = append(some, Live{"oak", logger.Temperature, logger.Reading{At: readingsBegin + next*60, Value: readingAt(next)}})
				next++
			}
			err = s.AddLive(ctx, some)
		}
		if err != nil {
			return err
		}
		if _, err := fmt.Printf("kept %d\n", next); err != nil {
			return err
		}
	}
}

const readingsBegin = 1735689600 // 1 January 2025

func readingAt(i int64) float64 { return float64(i%900)/100 - 3 }

// TestKilledListenersLoseNothing kills a process that keeps readings again and again:
// what was acknowledged is there, in order, each instant once, and nothing else but
// whole batches.
func TestKilledListenersLoseNothing(t *testing.T) {
	s := open(t, Options{})
	path := s.Path()
	s.Close()
	random := rand.New(rand.NewPCG(9, 2026))
	acknowledged := int64(0)
	kills := draws(60)
	for range kills {
		cmd := exec.Command(os.Args[0])
		cmd.Env = append(os.Environ(), readingRole+"="+path)
		var trouble strings.Builder
		cmd.Stderr = &trouble
		out, err := cmd.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		after := time.Duration(random.IntN(60_000)) * time.Microsecond
		started := false
		lines := bufio.NewScanner(out)
		for lines.Scan() {
			if !started {
				started = true
				time.AfterFunc(after, func() { cmd.Process.Kill() })
			}
			var n int64
			// A torn last line gives a smaller number, which was acknowledged before.
			if k, _ := fmt.Sscanf(lines.Text(), "kept %d", &n); k == 1 {
				acknowledged = max(acknowledged, n)
			}
		}
		cmd.Wait() // it was killed, which is no success
		if trouble.Len() > 0 {
			t.Fatalf("the writer failed: %s", trouble.String())
		}
	}
	r, err := Open(t.Context(), path, Options{Existing: true})
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	v := sensorNamed(t, r, "oak")
	got, err := r.Readings(t.Context(), v.ID, 0, math.MaxInt64)
	if err != nil {
		t.Fatal(err)
	}
	if int64(len(got)) < acknowledged || acknowledged == 0 || len(got)%700 != 0 || int64(len(got)) != v.Readings {
		t.Fatalf("%d readings, %d acknowledged, the sensor says %d", len(got), acknowledged, v.Readings)
	}
	for i, x := range got {
		if x.At != readingsBegin+int64(i)*60 || math.Abs(x.Value-readingAt(int64(i))) > 1e-9 {
			t.Fatalf("reading %d is %+v", i, x)
		}
	}
	hours, err := r.HoursOf(t.Context(), []int64{v.ID}, readingsBegin, math.MaxInt64)
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, h := range hours[0] {
		n += h.Count
	}
	if n != len(got) {
		t.Errorf("the hours hold %d of %d readings", n, len(got))
	}
	t.Logf("%d kills, %d readings acknowledged, all found", kills, acknowledged)
}
