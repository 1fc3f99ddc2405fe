package web

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"time"

	"hackle/internal/store"
)

// underway is the answer of a page whose result is still being made.
type underway struct {
	work *work
	hive *hiveHead
}

func (u *underway) Error() string { return u.work.title + " is being computed" }

// workingPage is shown until the work is done, and says why when it failed.
type workingPage struct {
	Key, Title, Problem string
	State               state
	Share               float64
}

func workingView(u *underway) view {
	s, share, _, err := u.work.look()
	p := workingPage{Key: u.work.key, Title: u.work.title, State: s, Share: share}
	shown := view{Title: u.work.title, Place: "yard", Hive: u.hive}
	switch s {
	case failed:
		shown.status, _, p.Problem = statusOf(err)
	case stopped:
		p.Problem = "It was stopped."
	}
	shown.Body = p
	return shown
}

// Over reports whether nothing more will come.
func (p workingPage) Over() bool { return p.State.over() }

// Percent done.
func (p workingPage) Percent() string { return fmt.Sprintf("%.0f %%", 100*p.Share) }

// Events is the address of the stream of progress.
func (p workingPage) Events() string { return "/work/" + p.Key + "/events" }

// told is how far work is, for people.
func told(s state, share float64) string {
	switch s {
	case waiting:
		return "waiting for its turn"
	case running:
		return fmt.Sprintf("%.0f %%", 100*share)
	}
	return string(s)
}

// mostStreams bounds the streams of progress that are open at once.
const mostStreams = 500

// showProgress streams how far work is, as server-sent events, until it is over.
func showProgress(v *visit) (view, error) {
	w := v.bench.find(v.request.PathValue("key"))
	if v.streams.Add(1) > mostStreams {
		v.streams.Add(-1)
		return view{}, errBusy
	}
	defer v.streams.Add(-1)
	h := v.w.Header()
	h.Set("Content-Type", "text/event-stream; charset=utf-8")
	h.Set("X-Accel-Buffering", "no")
	control := http.NewResponseController(v.w)
	send := func(event string, data any) error {
		text, err := json.Marshal(data)
		if err != nil {
			return err
		}
		if err := control.SetWriteDeadline(time.Now().Add(mostTime)); err != nil && !errIsUnsupported(err) {
			return err
		}
		if _, err := fmt.Fprintf(v.w, "event: %s\ndata: %s\n\n", event, text); err != nil {
			return err
		}
		return control.Flush()
	}
	type progress struct {
		State state   `json:"state"`
		Share float64 `json:"share"`
		Text  string  `json:"text"`
	}
	beat := time.NewTicker(15 * time.Second) // keeps the line open and finds out who left
	defer beat.Stop()
	for {
		if w == nil { // done and forgotten, or never begun
			_ = send("over", progress{State: done, Share: 1, Text: "done"})
			return view{written: true}, nil
		}
		s, share, changed, _ := w.look()
		event := "progress"
		if s.over() {
			event = "over"
		}
		if err := send(event, progress{s, share, told(s, share)}); err != nil || s.over() {
			return view{written: true}, nil // who left needs no answer
		}
		select {
		case <-changed:
		case <-beat.C:
		case <-v.context().Done():
			return view{written: true}, nil
		case <-v.bench.ctx.Done():
			return view{written: true}, nil
		}
	}
}

// stopWork ends work for all who watch it.
func stopWork(v *visit) (view, error) {
	if w := v.bench.find(v.request.PathValue("key")); w != nil {
		w.stop()
	}
	return view{to: local(v.request.PostFormValue("to"))}, nil
}

// redoWork forgets that work failed or was stopped, so that the page begins anew.
func redoWork(v *visit) (view, error) {
	v.bench.forget(v.request.PathValue("key"))
	return view{to: local(v.request.PostFormValue("to"))}, nil
}

// errIsUnsupported tells of a connection that knows no deadlines, as in tests.
func errIsUnsupported(err error) bool { return errors.Is(err, http.ErrNotSupported) }

// workPage lists what is being computed, and what was lately.
type workPage struct {
	Sentence     string
	Going, Ended []workRow
}

type workRow struct {
	Key, Title, Page, Events, Told, Problem, When string
	Share                                         float64
}

// lately is how much of what ended is listed.
const lately = 20

func showWork(v *visit) (view, error) {
	p := workPage{Sentence: "Nothing is being computed."}
	for _, w := range v.bench.list() {
		if s, share, _, _ := w.look(); !s.over() {
			p.Going = append(p.Going, workRow{Key: w.key, Title: w.title, Page: w.errand.Page(), Events: "/work/" + w.key + "/events", Told: told(s, share), Share: share})
		}
	}
	switch n := len(p.Going); {
	case n == 1:
		p.Sentence = "One thing is being computed."
	case n > 1:
		p.Sentence = fmt.Sprintf("%d things are being computed.", n)
	}
	all, err := v.config.Store.Jobs(v.context(), store.Finished, store.Failed, store.Cancelled)
	if err != nil {
		return view{}, err
	}
	for _, j := range all[:min(len(all), lately)] {
		var e errand
		if err := json.Unmarshal(j.Input, &e); err != nil {
			return view{}, err
		}
		how := map[store.JobState]string{store.Finished: "done.", store.Failed: "failed.", store.Cancelled: "stopped."}[j.State]
		p.Ended = append(p.Ended, workRow{Title: j.Message, Page: e.Page(), Told: how, Problem: j.Error, When: j.Changed.In(v.config.Now().Location()).Format("2 Jan 2006 15:04")})
	}
	return view{Title: "Being computed", Place: "yard", Body: p}, nil
}
