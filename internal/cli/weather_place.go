package cli

import (
	"bytes"
	"errors"
	"fmt"
	"math"

	"github.com/spf13/cobra"

	"hackle/climate"
	"hackle/internal/answer"
	"hackle/ledger"
	"hackle/quantity"
)

// siteNear is the JSON of the nearest built-in weather.
type siteNear struct {
	Site       answer.Site `json:"site"`
	Kilometres float64     `json:"distance_km"`
	HeightStep float64     `json:"height_step_m"`
	Unlike     bool        `json:"unlike"` // an example of a climate rather than the yard's weather
	Warnings   []string    `json:"warnings"`
	Weather    weatherMade `json:"weather"`
}

func (p *program) weatherNear() *cobra.Command {
	place := newPlaceFlags()
	var out weatherOut
	c := p.command(&cobra.Command{
		Use:   "near --latitude 44.3 --longitude -72.6 --height 300m",
		Short: "Find the nearest built-in weather and move it to a yard's height",
		Long: `Find the built-in weather that is nearest to a yard, in distance and height, and
move it to the yard's height: temperature and vapour by mean lapse rates of the
season, pressure with them. It says how far the place is, what was corrected, and
what is doubtful. A place more than 150 km away, or 300 m higher or lower, is an
example of a climate, not the yard's weather.

A map tells the height; within 30 m is good enough (0.2 °C). --out writes the
corrected year.`,
		Example: `  hackle weather near --latitude 44.3 --longitude 72.6W --height 300m
  hackle weather near --latitude 44.3 --longitude -72.6 --height 1000ft --out yard.epw
  hackle weather near --latitude 33.9S --longitude 18.6E --height 50m --json`,
		Args: cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			if err := place.need(); err != nil {
				return err
			}
			if !place.height.given {
				return errors.New("how high is the yard? Give --height above the sea, such as --height 300m; within 30 m is good enough")
			}
			if err := out.check(); err != nil {
				return err
			}
			m, err := climate.Nearest(place.latitude.value, place.longitude.value, place.height.value)
			if err != nil {
				return err
			}
			w, err := m.Series()
			if err != nil {
				return internal(err)
			}
			made, err := out.write(w)
			if err != nil {
				return err
			}
			near := siteNear{Site: answer.SiteOf(m.Site), Kilometres: m.Kilometres, HeightStep: m.HeightStep, Unlike: m.Unlike(), Warnings: m.Warnings, Weather: made}
			if near.Warnings == nil {
				near.Warnings = []string{}
			}
			return p.write(near, func(b *bytes.Buffer) error { near.text(b, p.system()); return nil })
		},
	})
	place.flags(c)
	out.flags(c)
	return c
}

func (n siteNear) text(b *bytes.Buffer, system quantity.System) {
	step := "at the same height"
	if d := n.HeightStep; math.Abs(d) >= 0.5 {
		side := "above it"
		if d < 0 {
			side = "below it"
		}
		step = quantity.Format(math.Abs(d), quantity.Length, system) + " " + side
	}
	b.WriteString(ledger.Wrap(fmt.Sprintf("Nearest built-in weather: %s (%s), %s away; the yard lies %s.", n.Site.Name, n.Site.Place, far(n.Kilometres, system), step), "", ledger.Width))
	for _, w := range n.Warnings {
		item(b, w)
	}
	b.WriteString("\n")
	// The warnings stand above.
	shown := n.Weather
	shown.Summary.Doubts = without(shown.Summary.Doubts, n.Warnings)
	shown.text(b, system)
	n.Weather.kept(b)
}

// without leaves out the doubts that were said already.
func without(doubts []climate.Doubt, said []string) []climate.Doubt {
	kept := []climate.Doubt{}
	for _, d := range doubts {
		known := false
		for _, s := range said {
			known = known || d.What == "site" && len(d.Why) >= len(s) && d.Why[:len(s)] == s
		}
		if !known {
			kept = append(kept, d)
		}
	}
	return kept
}

// far writes a way over land.
func far(km float64, system quantity.System) string {
	if system == quantity.US {
		return fmt.Sprintf("%.0f mi", km/1.609344)
	}
	return fmt.Sprintf("%.0f km", km)
}

func (p *program) weatherAt() *cobra.Command {
	height := amount{kind: quantity.Length, bare: "m"}
	hollow := amount{kind: quantity.TemperatureDifference}
	var windbreaks, trees []string
	var snow bool
	var out weatherOut
	c := p.command(&cobra.Command{
		Use:   "at W --height 300m --windbreak \"240-300, 3 m, 10 m, 40 %\"",
		Short: "Move weather to a yard: height, frost hollow, windbreaks, shade, snow",
		Long: `Move weather from its station to the yard.

--height moves it to another height above the sea. --hollow is how much colder than
the station a frost hollow gets on long, still, clear nights: 2 to 4 K in a slight
dip, up to 10 K in a closed one. --windbreak, as often as there are, is a hedge,
belt or fence: bearings of its ends from the hive, clockwise, then height,
distance, open share and, if it loses its leaves, open share without them; a wall
has 0 %, a dense hedge 20 to 40 %. --shade, as often as there is, is a line of
trees (evergreen or deciduous) or a house or hill (solid): bearings, elevation of
its top seen from the hive, kind. Bearings that are equal mean all round. --snow
computes the snow lying from rain and temperature where the file has no snow depth.

Leaves come and go by the usual dates of the latitude and height. Wind cut by
windbreaks here must not be cut a second time: let the hive file's site be open.`,
		Example: `  hackle weather at burlington-vt --height 350m --hollow 4K --out hill.epw
  hackle weather at yard.csv --windbreak "240-300, 3 m, 10 m, 40 %, 70 %" --out hedge.csv
  hackle weather at yard.epw --shade "90-200, 25 deg, deciduous" --snow --out shade.epw`,
		RunE: func(_ *cobra.Command, args []string) error {
			if err := exactly(args, 1, "one weather file or built-in name"); err != nil {
				return err
			}
			if !height.given && !hollow.given && len(windbreaks)+len(trees) == 0 && !snow {
				return errors.New("what is the yard like? Give --height, --hollow, --windbreak, --shade or --snow")
			}
			if height.given && !(height.value >= -450 && height.value <= 9000) {
				return fmt.Errorf("--height %s, accepted: -450 to 9000 m above the sea", height.text)
			}
			if hollow.given && !(hollow.value > 0 && hollow.value <= 20) {
				return fmt.Errorf("--hollow %s, accepted: above 0, up to 20 K", hollow.text)
			}
			var breaks []climate.Windbreak
			for _, text := range windbreaks {
				b, err := windbreakIn(text)
				if err != nil {
					return err
				}
				breaks = append(breaks, b)
			}
			var shade climate.Shade
			for _, text := range trees {
				l, err := treesIn(text)
				if err != nil {
					return err
				}
				shade.Lines = append(shade.Lines, l)
			}
			if err := out.check(args[0]); err != nil {
				return err
			}
			w, err := openWeather(args[0])
			if err != nil {
				return err
			}
			if height.given {
				w = w.AtHeight(height.value)
			}
			if hollow.given {
				w = w.InHollow(climate.FrostHollow{Drop: hollow.value})
			}
			leaves := climate.LeavesAt(w.Latitude, w.Height)
			if len(breaks) > 0 {
				w = w.Sheltered(breaks, leaves)
			}
			if len(shade.Lines) > 0 {
				shade.Leaves = leaves
				w = w.Shaded(shade)
			}
			if snow {
				if w.HasSnow {
					return fmt.Errorf("--snow: %s has a snow depth of its own, which is kept; leave --snow out", args[0])
				}
				if !w.HasRain {
					return fmt.Errorf("--snow: the snow is computed from rain, which %s does not know", args[0])
				}
				w = w.WithSnow()
			}
			return p.madeWeather(&out, w)
		},
	})
	c.Flags().Var(&height, "height", "of the yard above the sea, such as 350m or 1150ft")
	c.Flags().Var(&hollow, "hollow", "how much colder a frost hollow gets, such as 4K")
	c.Flags().StringArrayVar(&windbreaks, "windbreak", nil, "`hedge`, belt or fence: bearings, height, distance, open share; may be repeated")
	c.Flags().StringArrayVar(&trees, "shade", nil, "`trees`, house or hill: bearings, elevation, kind; may be repeated")
	c.Flags().BoolVar(&snow, "snow", false, "compute the snow lying from rain and temperature")
	out.flags(c)
	return c
}
