// Package web is hackle in the browser: pages for people and a documented
// interface for programs, from one server that runs on the keeper's own machine.
//
// The pages are made on the server and work without scripts; scripts only spare
// waiting. Everything the pages need is in the binary, and no page asks another
// machine for anything. What is kept lies in the yard's database or in the
// address of a page; cookies hold the look, the units and a session.
//
// A page is an entry of [pages] with a template of its own. It gets a visit, which
// knows the reader's units, and returns a view, which the layout frames.
package web

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"sync/atomic"
	"time"

	"hackle/hive"
	"hackle/internal/store"
)

// Limits of a request.
const (
	mostForm    = 1 << 20          // bytes of a form or of JSON
	mostWeather = 40 << 20         // bytes of an uploaded weather file: about twenty years in the EPW layout
	mostTime    = 30 * time.Second // of one answer, streams excepted
)

// Config is what a server needs to know.
type Config struct {
	Store *store.Store     // open until after Close
	Log   *slog.Logger     // nil: silent
	Now   func() time.Time // nil: time.Now

	// Version tells builds of the program apart that may compute differently: a
	// result is kept under it.
	Version string

	// Password is the hash of the password that opens the pages, as [HashPassword]
	// makes it; empty: none is asked for.
	Password string
	// Names are host names under which the server may be addressed, beside the
	// address that a request came in on and localhost.
	Names []string
	// Secure is true when connections are encrypted, so that cookies may insist on
	// it.
	Secure bool
	// Workers is how many runs go on at once, 0 for one a core.
	Workers int
}

// Server answers requests. Make it with [New] and stop it with Close.
type Server struct {
	config  Config
	handler http.Handler
	sheets  *sheets
	bench   *bench
	doors   *doors
	shelves *shelves
	streams atomic.Int64 // of progress that are open
}

// New makes a server.
func New(config Config) (*Server, error) {
	if config.Log == nil {
		config.Log = slog.New(slog.DiscardHandler)
	}
	if config.Now == nil {
		config.Now = time.Now
	}
	s := &Server{config: config}
	var err error
	if s.sheets, err = loadSheets(); err != nil {
		return nil, err
	}
	if s.doors, err = newDoors(config.Password, config.Store, config.Now); err != nil {
		return nil, err
	}
	s.bench = newBench(config.Workers, jobs{config.Store, config.Log, &leftJobs{all: map[string]store.Job{}}})
	s.shelves = newShelves()
	mux := http.NewServeMux()
	mux.Handle("GET /assets/{version}/{name...}", http.HandlerFunc(s.sheets.serveAsset))
	for _, p := range pages() {
		if p.template != "" && s.sheets.templates[p.template] == nil {
			return nil, fmt.Errorf("page %s: no template %s", p.route, p.template)
		}
		mux.Handle(p.route, s.page(p))
	}
	mux.Handle("/", s.page(page{serve: func(v *visit) (view, error) {
		return view{}, &missing{what: "page " + v.request.URL.Path}
	}}))
	s.handler = s.guard(mux)
	left, err := s.takeUp(s.bench.ctx)
	if err != nil {
		config.Log.Warn("what was left undone is not gone on with", "error", err) // as with a file that cannot be written to
	}
	if len(left) > 0 {
		s.bench.all.Go(func() { s.resume(left) })
	}
	return s, nil
}

// ServeHTTP answers one request.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) { s.handler.ServeHTTP(w, r) }

// Close stops what is being computed.
func (s *Server) Close() { s.bench.close() }

// missing is what was asked for and is not there.
type missing struct{ what string }

func (m *missing) Error() string { return "there is no " + m.what }

// refused is input that cannot be used; the text says what was found and what is
// accepted.
type refused struct {
	status int // 0: 422
	text   string
}

func (r *refused) Error() string { return r.text }

func refuse(format string, args ...any) error { return &refused{text: fmt.Sprintf(format, args...)} }

// statusOf an error, and what people are told of it.
func statusOf(err error) (status int, title, text string) {
	var gone *missing
	var bad *refused
	var large *http.MaxBytesError
	var faults *hive.Faults
	if status, title, text := keptStatus(err); status != 0 {
		return status, title, text
	}
	switch {
	case errors.As(err, &gone):
		return http.StatusNotFound, "Not here", gone.Error()
	case errors.As(err, &large):
		return http.StatusRequestEntityTooLarge, "Too large", fmt.Sprintf("What was sent is larger than the %d bytes that are accepted here.", large.Limit)
	case errors.As(err, &faults):
		return http.StatusUnprocessableEntity, "The hive file has faults", faults.Error()
	case errors.As(err, &bad):
		if bad.status != 0 {
			return bad.status, "That cannot be done", bad.text
		}
		return http.StatusUnprocessableEntity, "That cannot be used", bad.text
	case errors.Is(err, context.DeadlineExceeded):
		return http.StatusServiceUnavailable, "Took too long", "The answer took too long and was given up. Nothing was changed; try again."
	}
	return http.StatusInternalServerError, "A fault of the program", "Something went wrong that is no fault of yours. Nothing was half-written. The terminal in which hackle runs says more."
}
