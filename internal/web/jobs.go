package web

import (
	"context"
	"encoding/json"
	"log/slog"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"sync"

	"hackle/change"
	"hackle/internal/answer"
	"hackle/internal/store"
	"hackle/quantity"
	"hackle/yard"
)

// An errand says how long work is begun: enough to begin it again when the program
// ended before it was done. Kinds are those of [starters].
type errand struct {
	Kind    string          `json:"kind"`
	Hive    string          `json:"hive,omitempty"`
	Title   string          `json:"title"`
	Query   string          `json:"query,omitempty"`   // what the page was asked
	File    string          `json:"file,omitempty"`    // hive file of a draft; empty: as it stands
	Changes []string        `json:"changes,omitempty"` // made on it, in their text form
	Units   quantity.System `json:"units"`             // of the sentences in the result
	Crashes int             `json:"crashes,omitempty"` // how often the program ended in the middle of it
}

// Page is the address that shows what comes of it.
func (e errand) Page() string {
	at := "/hive/" + url.PathEscape(e.Hive)
	switch {
	case e.Kind == kindYardRank:
		at = "/rank?" + e.Query
	case e.Kind != kindYear:
		at += "/" + e.Kind
		if e.Query != "" {
			at += "?" + e.Query
		}
	case len(e.Changes) > 0:
		at += "/changes?" + url.Values{"change": e.Changes}.Encode()
	case e.File != "":
		at += "/edit"
	}
	return at
}

// Kinds of errand. Those of a hive that are no year have the name of their page.
const (
	kindYear     = "year"
	kindRange    = "range"
	kindRank     = "rank"
	kindMeasured = "measured"
	kindYardRank = "yardrank" // of all hives, and so of no hive
)

// starters begin work of a kind again, if it still is what is wanted: the key says
// everything that a result depends on, so that a hive that was built anew meanwhile
// or another build of the program has another one.
func starters() map[string]func(v *visit, e errand, key string) error {
	return map[string]func(v *visit, e errand, key string) error{
		kindYear: beginYearAgain,
		kindRange: func(v *visit, e errand, key string) error {
			want, err := readRange(v.request.URL.Query())
			if err != nil {
				return err
			}
			r, _, err := v.ranging(want)
			if err == nil && r.key == key {
				_, err = v.startDrawing(r)
			}
			return err
		},
		kindRank: func(v *visit, e errand, key string) error {
			want, err := readRank(v.request.URL.Query())
			if err != nil {
				return err
			}
			r, _, err := v.ranking(want)
			if err == nil && r.key == key {
				_, err = v.beginRank(r)
			}
			return err
		},
		kindYardRank: func(v *visit, e errand, key string) error {
			want, err := readRank(v.request.URL.Query())
			if err != nil {
				return err
			}
			r, _, err := v.yardRanking(want)
			if err == nil && r.key == key {
				_, err = v.beginYardRank(r)
			}
			return err
		},
		kindMeasured: func(v *visit, e errand, key string) error {
			m, p, err := v.measuring(askedIn(v.request.URL.Query()))
			if err == nil && p != nil && m.key == key {
				_, err = v.beginMeasured(m)
			}
			return err
		},
	}
}

func beginYearAgain(v *visit, e errand, key string) error {
	a, err := v.ask(v.context(), e.Hive, e.Units)
	if err != nil {
		return err
	}
	if e.File != "" {
		plan, _, err := answer.ReadHive(a.Hive.Name, strings.NewReader(e.File))
		if err != nil {
			return err
		}
		if a, err = v.askDraft(v.context(), a, plan, e.Units); err != nil {
			return err
		}
	}
	if len(e.Changes) > 0 {
		set, err := pickedIn(url.Values{"change": e.Changes})
		if err != nil {
			return err
		}
		whole, err := v.weatherOf(v.context(), a.Yard.Weather)
		if err != nil {
			return err
		}
		if a, _, err = v.changed(v.context(), a, set, change.Site{Weather: whole, Units: e.Units}); err != nil {
			return err
		}
	}
	if a.Key == key {
		_, err = v.start(a)
	}
	return err
}

// jobs writes long work down in the yard's file: what was asked, how far it is and
// how it ended. The results themselves lie among the cached ones under the same key.
type jobs struct {
	store *store.Store
	log   *slog.Logger
	left  *leftJobs
}

// leftJobs are those that an earlier run of the program did not end, by key.
type leftJobs struct {
	mu  sync.Mutex
	all map[string]store.Job
}

func (l *leftJobs) take(key string) (store.Job, bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	j, ok := l.all[key]
	delete(l.all, key)
	return j, ok
}

// mostCrashes is how often work that the program did not survive is begun again.
const mostCrashes = 3

// begin writes new work down, in the place of what was left of the same.
func (j jobs) begin(w *work) {
	if j.store == nil || w.errand.Kind == "" {
		return
	}
	w.keeping.Lock()
	old, was := j.left.take(w.key)
	if w.job.ID = old.ID; was {
		var e errand
		if json.Unmarshal(old.Input, &e) == nil {
			w.errand.Crashes = e.Crashes
		}
		w.job.Created = old.Created
	} else {
		id, err := yard.NewID()
		if err != nil {
			j.log.Warn("work is not written down", "error", err)
			w.keeping.Unlock()
			return
		}
		w.job.ID = id
	}
	w.keeping.Unlock()
	j.note(w)
}

// noteShare is how much further work must be to be written down again.
const noteShare = 0.05

// note writes down how work stands. A file that cannot be written to is no reason
// to stop working.
func (j jobs) note(w *work) {
	w.keeping.Lock()
	defer w.keeping.Unlock()
	if w.job.ID == "" {
		return
	}
	s, share, _, err := w.look()
	w.mu.Lock()
	unfinished := w.unfinished
	w.mu.Unlock()
	to := map[state]store.JobState{waiting: store.Waiting, running: store.Running, done: store.Finished, failed: store.Failed, stopped: store.Cancelled}[s]
	if unfinished {
		to = store.Stopped
	}
	if w.job.State == to && share < w.job.Progress+noteShare {
		return
	}
	w.errand.Title = w.title
	input, problem := json.Marshal(w.errand)
	if problem != nil {
		j.log.Warn("work is not written down", "error", problem)
		return
	}
	next := w.job
	next.Kind, next.State, next.Progress, next.Result, next.Input, next.Message = w.errand.Kind, to, share, w.key, input, w.title
	if s == failed && err != nil {
		_, _, next.Error = statusOf(err)
	}
	kept, problem := j.store.PutJob(context.Background(), next)
	if problem != nil {
		j.log.Warn("how far work is could not be written down", "error", problem)
		return
	}
	w.job = kept
}

// takeUp finds what an earlier run of the program left undone.
func (s *Server) takeUp(ctx context.Context) ([]store.Job, error) {
	all, err := s.config.Store.Jobs(ctx, store.Waiting, store.Running, store.Stopped)
	if err != nil {
		return nil, err
	}
	if err := s.config.Store.StopJobs(ctx); err != nil {
		return nil, err
	}
	slices.Reverse(all) // the oldest first
	kept := all[:0]
	for _, j := range all {
		var e errand
		if err := json.Unmarshal(j.Input, &e); err != nil {
			continue
		}
		if j.State == store.Running {
			e.Crashes++
		}
		if j.Input, err = json.Marshal(e); err != nil {
			return nil, err
		}
		s.bench.jobs.left.all[j.Result] = j
		kept = append(kept, j)
	}
	return kept, nil
}

// resume begins again what was left undone, the oldest first. What nobody would ask
// for in that form any more is marked as cancelled.
func (s *Server) resume(left []store.Job) {
	for _, j := range left {
		if s.bench.ctx.Err() != nil {
			return // it stays stopped and is taken up the next time
		}
		err := s.beginAgain(j)
		if rest, still := s.bench.jobs.left.take(j.Result); still {
			rest.State, rest.Error = store.Cancelled, "What it was asked for has changed since."
			if err != nil {
				rest.State = store.Failed
				_, _, rest.Error = statusOf(err)
			}
			if _, err := s.config.Store.PutJob(s.bench.ctx, rest); err != nil {
				s.config.Log.Warn("work that was left could not be written down", "error", err)
			}
		}
	}
}

func (s *Server) beginAgain(j store.Job) error {
	var e errand
	if err := json.Unmarshal(j.Input, &e); err != nil {
		return err
	}
	begin := starters()[e.Kind]
	if begin == nil {
		return refuse("%q is no work that this program does.", e.Kind)
	}
	if e.Crashes >= mostCrashes {
		return refuse("The program ended %d times in the middle of it; it is not begun again by itself.", e.Crashes)
	}
	r, err := http.NewRequestWithContext(s.bench.ctx, http.MethodGet, e.Page(), nil)
	if err != nil {
		return err
	}
	r.SetPathValue("hive", e.Hive)
	return begin(&visit{Server: s, request: r, system: e.Units}, e, j.Result)
}
