package web

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"hackle/change"
	"hackle/internal/store"
)

// oneWorker lets one piece of work go on at a time, so that the others wait.
func oneWorker(c *Config) { c.Workers = 1 }

// openAt starts a server on a yard's file; shut ends it in order.
func openAt(t *testing.T, path string, change func(*Config)) (s *site, shut func()) {
	t.Helper()
	kept, err := store.Open(t.Context(), path, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	config := Config{Store: kept}
	if change != nil {
		change(&config)
	}
	pages, err := New(config)
	if err != nil {
		t.Fatal(err)
	}
	server := httptest.NewServer(pages)
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	return &site{server, t, pages, kept, &http.Client{Jar: jar, Timeout: time.Minute}}, func() {
		t.Helper()
		pages.Close()
		server.Close()
		if err := kept.Close(); err != nil {
			t.Error(err)
		}
	}
}

// kept returns the jobs of the yard's file by kind.
func (s *site) jobs() map[string]store.Job {
	s.t.Helper()
	all, err := s.store.Jobs(s.t.Context())
	if err != nil {
		s.t.Fatal(err)
	}
	by := map[string]store.Job{}
	for _, j := range all {
		if _, twice := by[j.Kind]; twice {
			s.t.Errorf("two jobs of kind %s", j.Kind)
		}
		by[j.Kind] = j
	}
	return by
}

// until waits for the work of a key to end, or to be some way on.
func (s *site) until(key string, enough func(state, float64) bool) {
	s.t.Helper()
	w := s.pages.bench.find(key)
	if w == nil {
		return
	}
	for {
		now, share, changed, err := w.look()
		if enough(now, share) {
			return
		}
		if now.over() {
			s.t.Fatalf("%s is %s: %v", key, now, err)
		}
		select {
		case <-changed:
		case <-s.t.Context().Done():
			s.t.Fatal("out of time")
		}
	}
}

const victim = "HACKLE_TEST_VICTIM"

// TestVictim is no test: it is the program that TestKilled kills.
func TestVictim(t *testing.T) {
	path := os.Getenv(victim)
	if path == "" {
		t.Skip("only as the victim of TestKilled")
	}
	s, _ := openAt(t, path, oneWorker)
	hive := s.firstHive()
	s.get(hive + "/winter")
	got := s.post(hive+"/range", url.Values{"draws": {"50"}, "days": {"winter"}})
	if got.status != 200 {
		t.Fatalf("a range: %d\n%s", got.status, got.body)
	}
	a, err := s.pages.ask(t.Context(), strings.TrimPrefix(hive, "/hive/"), 0)
	if err != nil {
		t.Fatal(err)
	}
	s.until(a.Key, func(_ state, share float64) bool { return share > 0.05 })
	if _, err := os.Stdout.WriteString("working on " + hive + "\n"); err != nil {
		t.Fatal(err)
	}
	select {} // until it is killed
}

// Work that a kill cut off is gone on with by the next start, without anybody who
// asks for it; it can be stopped from anywhere, and what was stopped stays stopped.
func TestKilled(t *testing.T) {
	path := filepath.Join(t.TempDir(), "yard.sqlite")
	child := exec.CommandContext(t.Context(), os.Args[0], "-test.run=^TestVictim$", "-test.count=1")
	child.Env = append(os.Environ(), victim+"="+path)
	out, err := child.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := child.Start(); err != nil {
		t.Fatal(err)
	}
	hive, said := "", ""
	for lines := bufio.NewScanner(out); hive == "" && lines.Scan(); {
		said += lines.Text() + "\n"
		_, hive, _ = strings.Cut(lines.Text(), "working on ")
	}
	if err := child.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	var killed *exec.ExitError
	if err := child.Wait(); !errors.As(err, &killed) || hive == "" {
		t.Fatalf("the victim ended by itself: %v\n%s", err, said)
	}

	s, shut := openAt(t, path, oneWorker)
	left := s.jobs()
	if len(left) != 2 || left["year"].ID == "" || left["range"].ID == "" {
		t.Fatalf("after the kill the file knows of %+v", left)
	}
	for _, kind := range []string{"year", "range"} { // taken up without a visit
		for s.pages.bench.find(left[kind].Result) == nil && s.jobs()[kind].State != store.Finished {
			select {
			case <-time.After(10 * time.Millisecond):
			case <-t.Context().Done():
				t.Fatalf("%s is not taken up: %+v", kind, s.jobs()[kind])
			}
		}
	}
	s.until(left["year"].Result, func(now state, _ float64) bool { return now == done })
	if got := s.get(hive + "/winter"); !strings.Contains(got.body, "of its 30 kg") {
		t.Errorf("the year that was taken up has no answer:\n%s", got.body)
	}
	if got := s.get("/work"); !strings.Contains(got.body, "The range of By the hedge") || !strings.Contains(got.body, "The year of By the hedge") {
		t.Errorf("the list of work does not name it:\n%s", got.body)
	}
	shut() // in order this time: the range stays to be done

	s, shut = openAt(t, path, oneWorker)
	now := s.jobs()
	if now["year"].State != store.Finished || now["year"].Progress != 1 || !now["year"].Created.Equal(left["year"].Created) {
		t.Errorf("the year stands as %+v", now["year"])
	}
	var e errand
	if err := json.Unmarshal(now["range"].Input, &e); err != nil || e.Crashes > 1 || !strings.HasPrefix(e.Page(), hive+"/range?") {
		t.Errorf("the range is kept as %+v, %v", e, err)
	}
	for s.pages.bench.find(now["range"].Result) == nil {
		select {
		case <-time.After(10 * time.Millisecond):
		case <-t.Context().Done():
			t.Fatal("the range is not taken up")
		}
	}
	other := &site{s.Server, t, s.pages, s.store, &http.Client{Timeout: time.Minute}} // another tab, of another browser
	other.post("/work/"+now["range"].Result+"/stop", url.Values{"to": {"/"}})
	s.until(now["range"].Result, func(now state, _ float64) bool { return now == stopped })
	shut()

	s, shut = openAt(t, path, oneWorker)
	defer shut()
	if j := s.jobs()["range"]; j.State != store.Cancelled {
		t.Errorf("a range that was stopped is %s after a restart", j.State)
	}
	if all := s.pages.bench.list(); len(all) != 0 {
		t.Errorf("what was stopped is begun again: %s", all[0].title)
	}
}

// What was left under another build of the program, or crashed it again and again,
// is not begun by itself.
func TestLeftWorkThatIsNotTakenUp(t *testing.T) {
	path := filepath.Join(t.TempDir(), "yard.sqlite")
	s, shut := openAt(t, path, oneWorker)
	hive := s.firstHive()
	a, err := s.pages.ask(t.Context(), strings.TrimPrefix(hive, "/hive/"), 0)
	if err != nil {
		t.Fatal(err)
	}
	shut()
	put := func(e errand, key string) {
		t.Helper()
		kept, err := store.Open(context.Background(), path, store.Options{})
		if err != nil {
			t.Fatal(err)
		}
		defer kept.Close()
		all, err := kept.Jobs(t.Context())
		if err != nil || len(all) != 1 {
			t.Fatalf("%d jobs, %v", len(all), err)
		}
		j := all[0]
		if j.Input, err = json.Marshal(e); err != nil {
			t.Fatal(err)
		}
		j.State, j.Result = store.Running, key
		if _, err := kept.PutJob(t.Context(), j); err != nil {
			t.Fatal(err)
		}
	}
	for _, c := range []struct {
		e     errand
		key   string
		state store.JobState
		says  string
	}{
		{a.errand, "run:of another build", store.Cancelled, "changed since"},
		{errand{Kind: kindYear, Hive: a.errand.Hive, Crashes: 2}, a.Key, store.Failed, "ended 3 times"},
		{errand{Kind: "dance", Hive: a.errand.Hive}, a.Key, store.Failed, "no work that"},
		{errand{Kind: kindYear, Hive: "01890a5d-ac96-774b-bcce-b302099a8057"}, a.Key, store.Failed, "no hive"},
	} {
		put(c.e, c.key)
		s, shut := openAt(t, path, oneWorker)
		var j store.Job
		for {
			all, err := s.store.Jobs(t.Context())
			if err != nil {
				t.Fatal(err)
			}
			if j = all[0]; !slices.Contains([]store.JobState{store.Waiting, store.Running, store.Stopped}, j.State) {
				break
			}
			time.Sleep(5 * time.Millisecond)
		}
		if j.State != c.state || !strings.Contains(j.Error, c.says) {
			t.Errorf("%+v left: %s, %q", c.e, j.State, j.Error)
		}
		if all := s.pages.bench.list(); len(all) != 0 {
			t.Errorf("%+v is begun again", c.e)
		}
		shut()
	}
}

// An errand of a draft or of changes finds its way to the same key.
func TestErrandsLeadBack(t *testing.T) {
	s := open(t, nil)
	hive := strings.TrimPrefix(s.firstHive(), "/hive/")
	ctx := t.Context()
	a, err := s.pages.ask(ctx, hive, 0)
	if err != nil {
		t.Fatal(err)
	}
	plan := a.Plan.Clone()
	plan.Hive.Lid.Layers = plan.Hive.Lid.Layers[:1]
	plan.Hive.Lid.Space = 0.0123456
	draft, err := s.pages.askDraft(ctx, a, plan, 0)
	if err != nil {
		t.Fatal(err)
	}
	for _, w := range s.pages.bench.list() {
		w.stop()
		s.until(w.key, func(now state, _ float64) bool { return now.over() })
	}
	set, err := pickedIn(url.Values{"change": {"lid=mineral wool 76 mm"}})
	if err != nil {
		t.Fatal(err)
	}
	v := &visit{Server: s.pages, request: httptest.NewRequest("GET", "/", nil)}
	whole, err := v.weatherOf(ctx, a.Yard.Weather)
	if err != nil {
		t.Fatal(err)
	}
	changed, _, err := v.changed(ctx, a, set, change.Site{Weather: whole})
	if err != nil {
		t.Fatal(err)
	}
	for what, x := range map[string]*asked{"a draft": draft, "a change": changed} {
		if x.Key == a.Key {
			t.Fatalf("%s is the same as the hive as it stands", what)
		}
		if err := beginYearAgain(v, x.errand, x.Key); err != nil {
			t.Error(err)
		}
		w := s.pages.bench.find(x.Key)
		if w == nil {
			t.Errorf("the errand of %s leads elsewhere: %+v", what, x.errand)
			continue
		}
		w.stop()
	}
}
