// Package fetch gets hourly weather of a place from an open weather service, an
// archive of past hours or a forecast, and only when asked: nothing here runs by
// itself, and a [Client] without an address contacts nobody.
//
// # What the service must answer
//
// A GET request carries
//
//	latitude, longitude        degrees, rounded to 0.01 (a yard's place is nobody's business)
//	elevation                  metres, when the yard's height is known
//	hourly                     names of the quantities, separated by commas
//	wind_speed_unit=ms, timezone=GMT
//	start_date, end_date       of an archive, YYYY-MM-DD, both included
//	forecast_days              of a forecast
//
// and the answer is a JSON object of parallel arrays:
//
//	{
//	  "latitude": 44.5, "longitude": -73.2, "elevation": 101.0,
//	  "utc_offset_seconds": 0,
//	  "hourly_units": {"time": "iso8601", "temperature_2m": "°C", ...},
//	  "hourly": {
//	    "time": ["2024-01-01T00:00", "2024-01-01T01:00", ...],
//	    "temperature_2m": [-3.1, -3.4, null, ...],
//	    ...
//	  }
//	}
//
// null stands for a missing value. Temperature, humidity, pressure and wind are
// those at the time; radiation is the mean and precipitation the sum of the hour
// before it. Every quantity has its unit in hourly_units. A refusal is a status
// of 400 or more with {"error": true, "reason": "..."}.
//
// Needed are temperature_2m, relative_humidity_2m or dew_point_2m,
// wind_speed_10m, wind_direction_10m and shortwave_radiation. surface_pressure,
// direct_normal_irradiance, diffuse_radiation, cloud_cover, precipitation,
// snowfall and snow_depth are used when they are there.
//
// This is the shape that the open weather service Open-Meteo documents (its
// weather forecast and historical weather interfaces, parts of whose
// documentation were read; the rest from memory). Its data are open under
// Creative Commons Attribution 4.0; name it wherever results are shown. Any
// other service, or a keeper's own server, that answers so will do.
package fetch

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"hackle/climate"
)

// Addresses of the open service named in the package comment, to offer as a
// default where a keeper turns fetching on. No [Client] has them by itself.
const (
	OpenArchive  = "https://archive-api.open-meteo.com/v1/archive"
	OpenForecast = "https://api.open-meteo.com/v1/forecast"
)

// Defaults of a [Client].
const (
	defaultTimeout  = time.Minute
	defaultAttempts = 4
	defaultMaxBytes = 64 << 20 // a hundred years of hours take about 60 MB
	// firstWait and longestWait bound the waits between attempts. Common practice,
	// no source.
	firstWait   = time.Second
	longestWait = time.Minute
)

const (
	// settledAfter is the age from which past hours no longer change: an archive
	// replaces its preliminary values within about three months (from memory).
	settledAfter = 90 * 24 * time.Hour
	// unsettledAge and forecastAge are how long a copy is as good as new.
	unsettledAge = 24 * time.Hour
	forecastAge  = time.Hour
	// oldestForecast is the age up to which a forecast may stand in for one that
	// cannot be fetched.
	oldestForecast = 24 * time.Hour
)

const (
	longestArchive  = 120 // years
	longestForecast = 16  // days
)

// Client fetches weather. The zero value of a field means its default; a client
// must not be altered while it is used, and may then be used by several
// goroutines.
type Client struct {
	Archive  string // address that answers for past hours; "" refuses them
	Forecast string // address that answers for hours to come; "" refuses them
	// CacheDir keeps answers in files; "" keeps none. See [DefaultCacheDir].
	CacheDir string
	Timeout  time.Duration // of one attempt, with its answer read; default one minute
	Attempts int           // tries in all before giving up; default 4
	MaxBytes int64         // of an answer, uncompressed; default 64 MB
	// Transport carries the requests; default one of package net/http that keeps to
	// the proxy of the environment.
	Transport http.RoundTripper
	// Now, Sleep and Jitter stand in for the clock and for chance in tests. Jitter
	// returns a number from 0 to 1.
	Now    func() time.Time
	Sleep  func(ctx context.Context, d time.Duration) error
	Jitter func() float64
}

// Request says what weather is wanted.
type Request struct {
	Name      string        // of the place, for the series; default its coordinates
	Latitude  float64       // north positive [deg]
	Longitude float64       // east positive [deg]
	Height    *float64      // above sea level [m]; nil takes the service's own
	Zone      time.Duration // the place's local standard time ahead of UTC
	// From and To bound past hours; the hours that lie wholly between them are
	// asked for. Both zero asks for a forecast.
	From, To time.Time
	Days     int // of a forecast, 1 to 16; default 7
	// Renew asks the service even when a copy is still good.
	Renew bool
	// CopyOnly asks nobody and takes a copy of any age.
	CopyOnly bool
}

func (r *Request) forecast() bool { return r.From.IsZero() && r.To.IsZero() }

// Weather is what was fetched.
type Weather struct {
	Series    *climate.Series
	Forecast  bool      // hours to come, which nobody has measured yet
	Fetched   time.Time // when the service gave it
	FromCache bool
	// Outdated is why an outdated copy had to do, nil when none had to.
	Outdated error
}

// Error refuses an answer, or tells that there was none. Its message is one line
// with address, status, field, what was found and what is accepted.
type Error struct {
	Address  string // without its query
	Status   int    // of the answer, 0 when there was none
	Field    string // of the answer, "" when it concerns the whole of it
	Found    string
	Accepted string
	Attempts int   // made, when more than one
	Err      error // the cause, nil when there is none beneath
}

// Error implements error.
func (e *Error) Error() string {
	var b strings.Builder
	fmt.Fprintf(&b, "weather from %s", e.Address)
	if e.Status != 0 {
		fmt.Fprintf(&b, ": status %d", e.Status)
		if text := http.StatusText(e.Status); text != "" {
			fmt.Fprintf(&b, " (%s)", text)
		}
	}
	if e.Attempts > 1 {
		fmt.Fprintf(&b, ", %d attempts", e.Attempts)
	}
	if e.Field != "" {
		b.WriteString(": " + e.Field)
	}
	if e.Found != "" {
		b.WriteString(": found " + e.Found)
	}
	if e.Accepted != "" {
		b.WriteString("; accepted: " + e.Accepted)
	}
	if e.Err != nil {
		b.WriteString(": " + strings.ReplaceAll(e.Err.Error(), "\n", " "))
	}
	return b.String()
}

// Unwrap returns the cause.
func (e *Error) Unwrap() error { return e.Err }

// ErrNoAddress tells that the client has no address for what was asked.
var ErrNoAddress = errors.New("no address of a weather service is set")

// ErrNoCopy tells that a copy was asked for and there is none.
var ErrNoCopy = errors.New("no copy of this weather has been kept")

// DefaultCacheDir returns the folder for copies under the user's cache folder
// ($XDG_CACHE_HOME/hackle/weather, or what the system has in its place).
func DefaultCacheDir() (string, error) {
	dir, err := os.UserCacheDir()
	if err != nil {
		return "", fmt.Errorf("folder for copies of weather: %w", err)
	}
	return filepath.Join(dir, "hackle", "weather"), nil
}

// Get fetches weather, or takes a copy that is still good: past hours older than
// three months do not age, younger ones are good for a day, a forecast for an
// hour. When the service cannot be reached or fails, an outdated copy stands in,
// a forecast's of at most a day, and Weather.Outdated says why.
//
// Attempts that fail for a reason that may pass (no connection, time-out, answer
// cut short, status 408, 425, 429, 500, 502, 503, 504) are repeated after 1, 2, 4 ... s,
// each shortened by chance to between half and the whole; a longer Retry-After
// is kept to, up to a minute, beyond which Get gives up at once. A redirect is
// followed only within the same host. Errors are [*Error], [ErrNoAddress],
// [ErrNoCopy], those of ctx, or a refusal of the request itself.
//
// The values go through the rules of package climate for missing and impossible
// values; a Repair's or FileError's Line counts the hours of the answer from 1.
// Hours at either end that lack a needed value are left off, with a note.
func (c *Client) Get(ctx context.Context, r Request) (*Weather, error) {
	q, err := c.query(&r)
	if err != nil {
		return nil, err
	}
	kept := c.copyOf(q)
	if kept != nil && (r.CopyOnly || !r.Renew && c.good(&r, kept.fetched)) {
		if w, err := c.weather(&r, q, kept.body, kept.fetched); err == nil {
			w.FromCache = true
			return w, nil
		}
		kept = nil // damaged: as if there were none
	}
	if r.CopyOnly {
		return nil, ErrNoCopy
	}
	body, err := c.ask(ctx, q)
	if err != nil {
		return c.standIn(ctx, &r, q, kept, err)
	}
	now := c.now()
	w, err := c.weather(&r, q, body, now)
	if err != nil {
		return nil, err
	}
	if err := c.keep(q, body, now); err != nil {
		w.Series.Repairs = append(w.Series.Repairs, climate.Repair{Field: "copy", Found: err.Error(), Done: "not kept for the next time"})
	}
	return w, nil
}

// standIn takes an outdated copy for an answer that failed.
func (c *Client) standIn(ctx context.Context, r *Request, q *query, kept *keptCopy, cause error) (*Weather, error) {
	if kept == nil || ctx.Err() != nil {
		return nil, cause
	}
	age := c.now().Sub(kept.fetched)
	if r.forecast() && age > oldestForecast {
		return nil, cause
	}
	w, err := c.weather(r, q, kept.body, kept.fetched)
	if err != nil {
		return nil, cause
	}
	w.FromCache, w.Outdated = true, cause
	w.Series.Repairs = append(w.Series.Repairs, climate.Repair{Field: "service", Found: cause.Error(),
		Done: fmt.Sprintf("the copy of %s taken", kept.fetched.UTC().Format("2006-01-02 15:04 UTC"))})
	return w, nil
}

// good tells whether a copy is as good as a new answer.
func (c *Client) good(r *Request, fetched time.Time) bool {
	age := c.now().Sub(fetched)
	switch {
	case age < 0: // from the future: some clock is wrong
		return false
	case r.forecast():
		return age <= forecastAge
	case fetched.Sub(r.To) >= settledAfter:
		return true
	}
	return age <= unsettledAge
}

// query is a checked request.
type query struct {
	url     *url.URL
	address string    // for messages: without query, which may hold a key
	from    time.Time // end of the first hour wanted of an archive
	to      time.Time // end of the last
	most    int       // hours that an answer may have: the whole days asked for, and one for other zones
}

// quantities asked for.
var asked = [...]string{
	"temperature_2m", "relative_humidity_2m", "dew_point_2m", "surface_pressure",
	"wind_speed_10m", "wind_direction_10m",
	"shortwave_radiation", "direct_normal_irradiance", "diffuse_radiation",
	"cloud_cover", "precipitation", "snowfall", "snow_depth",
}

// query checks a request and the client's address for it.
func (c *Client) query(r *Request) (*query, error) {
	switch {
	case !(r.Latitude >= -90 && r.Latitude <= 90):
		return nil, fmt.Errorf("latitude %g, accepted: -90 to 90 degrees, north positive", r.Latitude)
	case !(r.Longitude >= -180 && r.Longitude <= 180):
		return nil, fmt.Errorf("longitude %g, accepted: -180 to 180 degrees, east positive", r.Longitude)
	case r.Height != nil && !(*r.Height >= -450 && *r.Height <= 9000):
		return nil, fmt.Errorf("height %g m, accepted: -450 to 9000 m above the sea", *r.Height)
	case r.Zone < -12*time.Hour || r.Zone > 14*time.Hour || r.Zone%time.Minute != 0:
		return nil, fmt.Errorf("zone %v, accepted: whole minutes from -12 h to 14 h ahead of UTC", r.Zone)
	}
	address := c.Archive
	if r.forecast() {
		address = c.Forecast
	}
	if address == "" {
		return nil, ErrNoAddress
	}
	u, err := url.Parse(address)
	if err != nil || u.Host == "" || u.User != nil || u.Fragment != "" || u.Scheme != "https" && u.Scheme != "http" {
		return nil, errors.New("address of the weather service: accepted is https://host/path, with a query if need be, without a name or password before the host")
	}
	v := u.Query()
	v.Set("latitude", degrees(r.Latitude))
	v.Set("longitude", degrees(r.Longitude))
	v.Set("hourly", strings.Join(asked[:], ","))
	v.Set("wind_speed_unit", "ms")
	v.Set("timezone", "GMT")
	if r.Height != nil {
		v.Set("elevation", strconv.FormatFloat(math.Round(*r.Height), 'f', 0, 64))
	}
	q := &query{url: u, address: u.Scheme + "://" + u.Host + u.EscapedPath()}
	if r.forecast() {
		if r.Days == 0 {
			r.Days = 7
		}
		if r.Days < 1 || r.Days > longestForecast {
			return nil, fmt.Errorf("a forecast of %d days, accepted: 1 to %d", r.Days, longestForecast)
		}
		v.Set("forecast_days", strconv.Itoa(r.Days))
		q.most = 24 * (r.Days + 1)
	} else {
		if r.From.IsZero() || r.To.IsZero() || !r.From.Before(r.To) {
			return nil, fmt.Errorf("past weather from %s to %s, accepted: a beginning before an end", r.From.Format(time.DateOnly), r.To.Format(time.DateOnly))
		}
		if r.From.AddDate(longestArchive, 0, 0).Before(r.To) || r.From.Year() < 1800 {
			return nil, fmt.Errorf("past weather from %s to %s, accepted: at most %d years, from 1800 on", r.From.Format(time.DateOnly), r.To.Format(time.DateOnly), longestArchive)
		}
		if now := c.now(); r.To.After(now) {
			return nil, fmt.Errorf("past weather to %s, accepted: up to now, %s; ask for a forecast beyond", r.To.Format(time.RFC3339), now.Format(time.RFC3339))
		}
		from, to := r.From.UTC(), r.To.UTC()
		if q.from = from.Truncate(time.Hour); q.from.Before(from) {
			q.from = q.from.Add(time.Hour)
		}
		q.from, q.to = q.from.Add(time.Hour), to.Truncate(time.Hour)
		if q.to.Before(q.from) {
			return nil, fmt.Errorf("past weather from %s to %s, accepted: at least one whole hour", r.From.Format(time.RFC3339), r.To.Format(time.RFC3339))
		}
		v.Set("start_date", q.from.Format(time.DateOnly))
		v.Set("end_date", q.to.Format(time.DateOnly))
		days := q.to.Truncate(24*time.Hour).Sub(q.from.Truncate(24*time.Hour))/(24*time.Hour) + 1
		q.most = 24 * (int(days) + 1)
	}
	u.RawQuery = v.Encode()
	return q, nil
}

// degrees writes an angle rounded to 0.01°, about a kilometre: finer than the
// grid of any such service, too coarse to find a hive by.
func degrees(x float64) string {
	return strconv.FormatFloat(x, 'f', 2, 64)
}

func (c *Client) now() time.Time {
	if c.Now != nil {
		return c.Now()
	}
	return time.Now()
}

func (c *Client) jitter() float64 {
	if c.Jitter != nil {
		return min(max(c.Jitter(), 0), 1)
	}
	return rand.Float64()
}

func (c *Client) sleep(ctx context.Context, d time.Duration) error {
	if c.Sleep != nil {
		return c.Sleep(ctx, d)
	}
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-timer.C:
		return nil
	}
}
