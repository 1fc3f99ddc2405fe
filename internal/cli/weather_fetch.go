package cli

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"time"

	"github.com/spf13/cobra"

	"hackle/internal/answer"
	"hackle/internal/fetch"
	"hackle/ledger"
)

// addressVariable names the address of the weather service in the environment.
const addressVariable = "HACKLE_WEATHER_ADDRESS"

// weatherFetched is the JSON of fetched weather.
type weatherFetched struct {
	Forecast bool        `json:"forecast"` // hours to come, which nobody has measured
	Fetched  time.Time   `json:"fetched"`
	FromCopy bool        `json:"from_copy"`
	Outdated string      `json:"outdated"` // why an outdated copy had to do, "" when none had to
	Weather  weatherMade `json:"weather"`
}

func (p *program) weatherFetch() *cobra.Command {
	place := newPlaceFlags()
	var from, to dayFlag
	var forecast, renew, copyOnly bool
	var days int
	var address, name string
	var out weatherOut
	c := p.command(&cobra.Command{
		Use:   "fetch --latitude 44.5 --longitude -73.2 --from 2015-01-01 --to 2024-12-31",
		Short: "Fetch the past or the forecast from an open weather service",
		Long: `Fetch the hourly weather of a place from an open weather service: an archive of past
days with --from and --to, or the days to come with --forecast. This is the only
command that uses a network, and it asks nobody but the address you give, with
--address or in the environment variable ` + addressVariable + `. The place is sent rounded
to 0.01 degrees, about a kilometre, with the height if you give it; no name is sent.

Known addresses, of a service whose data are open under Creative Commons Attribution
4.0 (name it wherever results are shown), free for use without gain; see its terms:

` + fetch.OpenArchive + `

` + fetch.OpenForecast + `

Any server that answers in the same shape will do (docs/weather.md). The variable
serves both the archive and the forecast; --address outranks it. Answers are kept
in the user's cache folder: past days for good, the last three months a day, a
forecast an hour. --renew asks again, --copy-only never asks. When the service
fails, an outdated copy stands in and this is told.`,
		Example: `  hackle weather fetch --latitude 44.5 --longitude 73.2W --height 110m --from 2015-01-01 --to 2024-12-31 --address ` + fetch.OpenArchive + ` --out yard.csv
  hackle weather fetch --latitude 44.5 --longitude 73.2W --forecast --days 10 --address ` + fetch.OpenForecast,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if err := place.need(); err != nil {
				return err
			}
			r := fetch.Request{Name: name, Latitude: place.latitude.value, Longitude: place.longitude.value, Zone: place.offset(), Renew: renew, CopyOnly: copyOnly}
			if place.height.given {
				r.Height = &place.height.value
			}
			switch {
			case renew && copyOnly:
				return errors.New("--renew asks the service and --copy-only does not: give one of them")
			case forecast && (from.given || to.given):
				return errors.New("--forecast begins today: give it without --from and --to")
			case forecast:
				if r.Days = days; days < 1 {
					return fmt.Errorf("--days %d, accepted: 1 to 16", days)
				}
			case !from.given || !to.given:
				return errors.New("which days? Give --from and --to for the past, or --forecast")
			case from.day.Year == 0 || to.day.Year == 0:
				return errors.New("--from and --to need a year, such as 2024-01-01")
			case cmd.Flags().Changed("days"):
				return errors.New("--days is for --forecast")
			default:
				zone := time.FixedZone("", int(r.Zone/time.Second))
				r.From, r.To = answer.DayIn(from.day, 0, zone), answer.DayIn(to.day, 0, zone).AddDate(0, 0, 1)
			}
			if address == "" {
				address = os.Getenv(addressVariable)
			}
			if address == "" {
				known := fetch.OpenArchive
				if forecast {
					known = fetch.OpenForecast
				}
				return fmt.Errorf("no weather service is set, and none is asked unless you name it: give --address or set %s, such as %s", addressVariable, known)
			}
			if err := out.check(); err != nil {
				return err
			}
			client := fetch.Client{Archive: address, Forecast: address}
			if dir, err := fetch.DefaultCacheDir(); err == nil { // without a folder nothing is kept
				client.CacheDir = dir
			}
			w, err := client.Get(cmd.Context(), r)
			if err != nil {
				return fetchError(cmd.Context(), err)
			}
			made, err := out.write(w.Series)
			if err != nil {
				return err
			}
			f := weatherFetched{Forecast: w.Forecast, Fetched: w.Fetched.UTC(), FromCopy: w.FromCache, Weather: made}
			if w.Outdated != nil {
				f.Outdated = w.Outdated.Error()
			}
			return p.write(f, func(b *bytes.Buffer) error {
				what := "Fetched"
				if f.FromCopy {
					what = "A copy kept of what was fetched"
				}
				if f.Forecast {
					what = "A forecast. " + what
				}
				b.WriteString(ledger.Wrap(fmt.Sprintf("%s on %s.", what, f.Fetched.Format("2 January 2006 15:04 UTC")), "", ledger.Width))
				if f.Outdated != "" {
					item(b, "The service failed, so an outdated copy had to do: "+f.Outdated)
				}
				b.WriteString("\n")
				f.Weather.text(b, p.system())
				f.Weather.kept(b)
				return nil
			})
		},
	})
	place.zoned(c)
	c.Flags().StringVar(&address, "address", "", "`URL` of the service's archive or forecast")
	c.Flags().Var(&from, "from", "first `day`, such as 2015-01-01")
	c.Flags().Var(&to, "to", "last `day`, which counts")
	c.Flags().BoolVar(&forecast, "forecast", false, "the days to come")
	c.Flags().IntVar(&days, "days", 7, "days of the forecast, 1 to 16")
	c.Flags().BoolVar(&renew, "renew", false, "ask the service even when a copy is good")
	c.Flags().BoolVar(&copyOnly, "copy-only", false, "take a kept copy of any age, ask nobody")
	c.Flags().StringVar(&name, "name", "", "`name` of the place")
	out.flags(c)
	return c
}

// fetchError keeps a time-out of the service apart from an interrupt of the user.
func fetchError(ctx context.Context, err error) error {
	switch {
	case ctx.Err() != nil:
		return ctx.Err()
	case errors.Is(err, fetch.ErrNoCopy):
		return errors.New("no copy of this weather has been kept: leave --copy-only out to ask the service")
	case errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded):
		return errors.New(err.Error()) // its own time ran out, nobody stopped it
	}
	return err
}
