package web

import (
	"bytes"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"net/http"
	"slices"
	"strings"
	"sync"
	"time"
	"unicode/utf8"

	"hackle/almanac"
	"hackle/change"
	"hackle/climate"
	"hackle/hive"
	"hackle/internal/answer"
	"hackle/internal/cutaway"
	"hackle/internal/store"
	"hackle/ledger"
	"hackle/quantity"
	"hackle/season"
	"hackle/wall"
	"hackle/yard"
)

// kept is how many things of a kind stay in memory.
const (
	keptResults = 64
	keptTraces  = 4  // of about 6 MB each
	keptYears   = 48 // of about 1 MB each
	keptWeather = 8
	keptQuick   = 64 // of about 0.1 MB each
	keptAsked   = 256
)

// asked is a hive with everything its answer depends on.
type asked struct {
	Yard   yard.Yard
	Hive   yard.Hive
	Build  yard.Build
	Plan   hive.Plan // as the build says
	Set    answer.Setting
	Notes  []string // of the hive file
	Key    string   // says everything that the result depends on
	errand errand   // how the run is asked for again
}

// result is what pages show of a run. It is kept in the yard's file.
type result struct {
	Ledger ledger.Ledger       `json:"ledger"`
	Water  []ledger.WaterMonth `json:"water"`
	First  time.Time           `json:"first"` // of the days below
	Daily  map[string]daily    `json:"daily"` // by channel of the trace
	Units  map[string]string   `json:"units"` // of the channels
}

// daily are the values of a channel by day.
type daily struct {
	Low, Mean, High, Last []float64 // of the day's hours; Last is that of the last one
}

// sum over the hours of each day.
func (d daily) sum() []float64 {
	all := make([]float64, len(d.Mean))
	for i, v := range d.Mean {
		all[i] = 24 * v
	}
	return all
}

// resultVersion changes when what is kept of a run does.
const resultVersion = "4"

// dailyChannels are the channels that the pages draw, beside those of openings.
var dailyChannels = []string{
	"outdoor.temp", "bees.heat", "bees.limit_share", "bees.core", "bees.mass", "bees.sealed", "bees.fanned", "bees.outside",
	"bees.confined", "bees.isolated", "honey.eaten", "honey.left", "honey.reach", "air.under_lid", "air.at_cluster", "air.at_floor",
	"air.mean", "air.warm_depth", "co2.at_cluster", "humidity.at_cluster", "water.hauled", "nectar.unripe", "comb.warmest", "water.lid", "water.overhead",
	"water.walls", "water.floor", "water.combs", "water.produced", "water.vented", "air.out", "loss.openings",
}

func daysOf(tr *season.Trace) (all map[string]daily, units map[string]string) {
	all, units = map[string]daily{}, map[string]string{}
	for _, c := range tr.Channels {
		if !slices.Contains(dailyChannels, c.Name) && !strings.HasPrefix(c.Name, "opening.") {
			continue
		}
		var d daily
		for h := 0; h < tr.Hours && h < len(c.Values); h += 24 {
			day := c.Values[h:min(h+24, tr.Hours, len(c.Values))]
			low, high, sum := math.Inf(1), math.Inf(-1), 0.0
			for _, v := range day {
				low, high, sum = min(low, v), max(high, v), sum+v
			}
			d.Low, d.Mean, d.High, d.Last = append(d.Low, short(low)), append(d.Mean, short(sum/float64(len(day)))), append(d.High, short(high)), append(d.Last, short(day[len(day)-1]))
		}
		all[c.Name], units[c.Name] = d, c.Unit
	}
	return all, units
}

// short drops digits that no picture shows; JSON has no infinity, so that an
// endless value becomes the largest that is drawn.
func short(v float64) float64 {
	switch {
	case math.IsNaN(v):
		return 0
	case math.IsInf(v, 0):
		return math.Copysign(1e6, v)
	case v == 0:
		return 0
	}
	scale := math.Pow(10, 5-math.Ceil(math.Log10(math.Abs(v))))
	return math.Round(v*scale) / scale
}

// memory holds the latest of things that can be made again.
type memory[T any] struct {
	mu    sync.Mutex
	most  int
	order []string // the latest used last
	all   map[string]T
}

func newMemory[T any](most int) *memory[T] { return &memory[T]{most: most, all: map[string]T{}} }

func (m *memory[T]) get(key string) (v T, ok bool) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if v, ok = m.all[key]; ok {
		i := slices.Index(m.order, key)
		m.order = append(slices.Delete(m.order, i, i+1), key)
	}
	return v, ok
}

func (m *memory[T]) put(key string, v T) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if _, ok := m.all[key]; !ok {
		m.order = append(m.order, key)
	}
	m.all[key] = v
	if len(m.order) > m.most {
		delete(m.all, m.order[0])
		m.order = m.order[1:]
	}
}

// shelves keep runs and what they are made of.
type shelves struct {
	results *memory[*result]
	traces  *memory[*season.Trace]
	years   *memory[*cutaway.Year]
	quick   *memory[*quickRun]
	joints  *wall.Cache // thermal bridges, between quick runs
	weather *memory[*climate.Series]
	shown   *memory[answer.Weather]
	asked   *memory[*asked]
	offers  *memory[[]change.Offer]

	calendars *memory[almanac.Calendar]
}

func newShelves() *shelves {
	return &shelves{newMemory[*result](keptResults), newMemory[*season.Trace](keptTraces), newMemory[*cutaway.Year](keptYears), newMemory[*quickRun](keptQuick), &wall.Cache{}, newMemory[*climate.Series](keptWeather), newMemory[answer.Weather](keptWeather), newMemory[*asked](keptAsked), newMemory[[]change.Offer](keptYears), newMemory[almanac.Calendar](keptResults)}
}

// weatherOf returns the weather that a yard has chosen: a built-in year by its
// name, or a series of the yard's file. No name is ever taken for a path.
func (s *Server) weatherOf(ctx context.Context, choice string) (*climate.Series, error) {
	if w, ok := s.shelves.weather.get(choice); ok {
		return w, nil
	}
	var w *climate.Series
	var err error
	if id, kept := strings.CutPrefix(choice, "series:"); kept {
		w, err = s.config.Store.WeatherSeries(ctx, yard.ID(id))
	} else {
		if !slices.Contains(climate.BuiltinNames(), choice) {
			return nil, &missing{what: fmt.Sprintf("weather %q", choice)}
		}
		w, err = climate.Builtin(choice)
	}
	if err != nil {
		return nil, err
	}
	s.shelves.weather.put(choice, w)
	return w, nil
}

// today is the day of the server's clock.
func (s *Server) today() string { return s.config.Now().Format(time.DateOnly) }

// standing is the build of a hive that holds today, else the first to come.
func (s *Server) standing(ctx context.Context, id yard.ID) (yard.Build, error) {
	builds, err := s.config.Store.BuildsOf(ctx, id)
	if err != nil {
		return yard.Build{}, err
	}
	b, ok := yard.BuildOn(builds, s.today())
	if !ok && len(builds) > 0 {
		b, ok = builds[0], true
	}
	if !ok {
		return b, &missing{what: "build of this hive: nothing says how it is built"}
	}
	return b, nil
}

// errNoWeather asks for a choice of weather.
var errNoWeather = &refused{text: "The yard has no weather yet. Choose one on the weather page."}

// ask finds a hive and sets it into the days of its weather.
func (s *Server) ask(ctx context.Context, id string, system quantity.System) (*asked, error) {
	at, err := yard.ParseID(id)
	if err != nil {
		return nil, &missing{what: "hive " + id}
	}
	h, err := s.config.Store.Hives.Get(ctx, at)
	if err != nil {
		return nil, err
	}
	if h.Deleted {
		return nil, &missing{what: "hive " + h.Name + " any more"}
	}
	y, err := s.config.Store.Yards.Get(ctx, h.Yard)
	if err != nil {
		return nil, err
	}
	b, err := s.standing(ctx, h.ID)
	if err != nil {
		return nil, err
	}
	return s.askOf(ctx, y, h, b, system)
}

func (s *Server) askOf(ctx context.Context, y yard.Yard, h yard.Hive, b yard.Build, system quantity.System) (*asked, error) {
	known := fmt.Sprintf("%s.%d %s.%d %s.%d %d", y.ID, y.Revision, h.ID, h.Revision, b.ID, b.Revision, system)
	if a, ok := s.shelves.asked.get(known); ok {
		return a, nil
	}
	plan, notes, err := answer.ReadHive(h.Name, strings.NewReader(b.File))
	if err != nil {
		return nil, err
	}
	a, err := s.askPlan(ctx, &asked{Yard: y, Hive: h, Build: b, Notes: notes, errand: errand{Kind: kindYear, Hive: string(h.ID), Units: system}}, plan, system)
	if err != nil {
		return nil, err
	}
	s.shelves.asked.put(known, a)
	return a, nil
}

// askPlan asks the same of a hive that is built in another way.
func (s *Server) askPlan(ctx context.Context, like *asked, plan hive.Plan, system quantity.System) (*asked, error) {
	return s.askIn(ctx, like, plan, change.Result{}, system)
}

// askDraft asks the same of a draft of the hive.
func (s *Server) askDraft(ctx context.Context, like *asked, plan hive.Plan, system quantity.System) (*asked, error) {
	a, err := s.askPlan(ctx, like, plan, system)
	if err != nil {
		return nil, err
	}
	a.errand.File, err = written(plan, quantity.Metric)
	return a, err
}

// askIn asks the same of a hive that changes have built in another way, or moved
// into other weather.
func (s *Server) askIn(ctx context.Context, like *asked, plan hive.Plan, changes change.Result, system quantity.System) (*asked, error) {
	choice := like.Yard.Weather
	if changes.Weather != "" {
		choice = changes.Weather
	}
	if choice == "" {
		return nil, errNoWeather
	}
	whole, err := s.weatherOf(ctx, choice)
	if err != nil {
		return nil, err
	}
	whole = changes.WeatherOf(whole)
	a := *like
	a.Plan = plan
	if a.Set, err = answer.Place([]hive.Plan{plan}, whole, answer.Days{}, system); err != nil {
		var span *answer.SpanError
		if errors.As(err, &span) {
			return nil, refuse("%s. Choose other weather for the yard.", span)
		}
		return nil, err
	}
	var text bytes.Buffer
	if err := hive.Encode(&text, plan, quantity.Metric); err != nil {
		return nil, err
	}
	sum := sha256.New()
	fmt.Fprintf(sum, "%s %s\n%s %s %s\n", resultVersion, s.config.Version, choice, a.Set.First.Format(time.DateOnly), a.Set.Last.Format(time.DateOnly))
	fmt.Fprintf(sum, "%v\n", changes.Shades)
	sum.Write(text.Bytes())
	a.Key = "run:" + hex.EncodeToString(sum.Sum(nil))
	return &a, nil
}

// found returns the result of a run that was made before, nil when there is none.
func (s *Server) found(ctx context.Context, a *asked) (*result, error) {
	if r, ok := s.shelves.results.get(a.Key); ok {
		return r, nil
	}
	packed, ok, err := s.config.Store.Cached(ctx, a.Key)
	if err != nil || !ok {
		return nil, err
	}
	var r result
	z, err := gzip.NewReader(bytes.NewReader(packed))
	if err == nil {
		err = json.NewDecoder(z).Decode(&r)
	}
	if err != nil {
		s.config.Log.Warn("a kept result cannot be read and is made anew", "error", err)
		return nil, nil
	}
	s.shelves.results.put(a.Key, &r)
	return &r, nil
}

// result returns what a run gave, or the work that makes it.
func (s *Server) result(ctx context.Context, a *asked) (*result, *work, error) {
	if r, err := s.found(ctx, a); r != nil || err != nil {
		return r, nil, err
	}
	w, err := s.start(a)
	return nil, w, err
}

// traced returns the hours of a run, or the work that makes them.
func (s *Server) traced(ctx context.Context, a *asked) (*season.Trace, *result, *work, error) {
	tr, ok := s.shelves.traces.get(a.Key)
	if ok {
		if r, err := s.found(ctx, a); r != nil || err != nil {
			return tr, r, nil, err
		}
	}
	w, err := s.start(a)
	return nil, nil, w, err
}

// drawn returns what can be drawn of a run, or the work that makes it.
func (s *Server) drawn(ctx context.Context, a *asked) (*cutaway.Year, *result, *work, error) {
	if y := s.foundYear(ctx, a.Key); y != nil {
		if r, err := s.found(ctx, a); r != nil || err != nil {
			return y, r, nil, err
		}
	}
	w, err := s.start(a)
	return nil, nil, w, err
}

// yearKey is the key of what is drawn of a run.
func yearKey(run string) string { return "drawn:" + run }

// foundYear returns what can be drawn of a run that was made before, nil when there
// is none.
func (s *Server) foundYear(ctx context.Context, run string) *cutaway.Year {
	if y, ok := s.shelves.years.get(run); ok {
		return y
	}
	packed, ok, err := s.config.Store.Cached(ctx, yearKey(run))
	if err != nil || !ok {
		return nil
	}
	y := &cutaway.Year{}
	z, err := gzip.NewReader(bytes.NewReader(packed))
	if err == nil {
		var b []byte
		if b, err = io.ReadAll(z); err == nil {
			err = y.UnmarshalBinary(b)
		}
	}
	if err != nil {
		s.config.Log.Warn("a kept picture cannot be read and is made anew", "error", err)
		return nil
	}
	s.shelves.years.put(run, y)
	return y
}

// keepPacked keeps what is written among the cached results. What cannot be kept
// stands in memory all the same.
func (s *Server) keepPacked(ctx context.Context, key string, write func(io.Writer) error) error {
	var packed bytes.Buffer
	z, err := gzip.NewWriterLevel(&packed, gzip.BestSpeed)
	if err != nil {
		return err
	}
	if err := errors.Join(write(z), z.Close()); err != nil {
		return err
	}
	if err := s.config.Store.Cache(ctx, key, packed.Bytes()); err != nil {
		if errors.Is(err, context.Canceled) {
			return err
		}
		s.config.Log.Warn("a result is not kept for later", "error", err)
	}
	return nil
}

// start runs a hive.
func (s *Server) start(a *asked) (*work, error) {
	return s.bench.start(a.errand, a.Key, "The year of "+a.Hive.Name, func(ctx context.Context, progress func(share float64)) error {
		traces, err := a.Set.Run(ctx, func(_, done, total int) { progress(float64(done) / float64(max(1, total))) })
		if err != nil {
			return err
		}
		tr := traces[0]
		r := &result{Ledger: a.Set.Ledger(0, tr), Water: ledger.WaterMonths(tr), First: tr.Start}
		r.Daily, r.Units = daysOf(tr)
		year, err := cutaway.Compact(tr)
		if err != nil {
			return err
		}
		s.shelves.traces.put(a.Key, tr)
		s.shelves.years.put(a.Key, year)
		s.shelves.results.put(a.Key, r)
		// The picture first: a result that is there without it would be run again.
		if err := s.keepPacked(ctx, yearKey(a.Key), func(w io.Writer) error {
			b, err := year.MarshalBinary()
			if err == nil {
				_, err = w.Write(b)
			}
			return err
		}); err != nil {
			return err
		}
		return s.keepPacked(ctx, a.Key, func(w io.Writer) error { return json.NewEncoder(w).Encode(r) })
	})
}

// keptStatus tells whose fault an error of what is kept is, 0 when it is none.
func keptStatus(err error) (status int, title, text string) {
	if faults := yard.FaultsIn(err); faults != nil {
		var all []string
		for _, f := range faults {
			all = append(all, f.String())
		}
		if text = upper(strings.Join(all, "; ")) + "."; !errors.Is(err, store.Conflict) {
			return http.StatusUnprocessableEntity, "That cannot be kept", text
		}
		return http.StatusConflict, "That name is taken", text
	}
	var e *store.Error
	if !errors.As(err, &e) {
		return 0, "", ""
	}
	text = upper(string(e.Problem)) + "."
	if e.Err != nil {
		text = upper(e.Err.Error()) + "."
	}
	if e.Todo != "" {
		text += " " + upper(e.Todo) + "."
	}
	switch e.Problem {
	case store.NotFound:
		return http.StatusNotFound, "Not here", text
	case store.Conflict:
		return http.StatusConflict, "Somebody else was faster", text
	case store.Refused:
		return http.StatusUnprocessableEntity, "That cannot be kept", text
	case store.Busy:
		return http.StatusServiceUnavailable, "The yard's file is in use", text
	}
	return http.StatusInternalServerError, "The yard's file " + string(e.Problem), text
}

// upper begins a sentence.
func upper(text string) string {
	r, n := utf8.DecodeRuneInString(text)
	if n == 0 {
		return ""
	}
	return strings.ToUpper(string(r)) + text[n:]
}
