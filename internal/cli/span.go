package cli

import (
	"errors"
	"fmt"
	"os"
	"time"

	"hackle/climate"
	"hackle/hive"
	"hackle/internal/answer"
)

// loadHive reads a hive file; the notes are its warnings.
func loadHive(path string) (plan hive.Plan, notes []string, err error) {
	f, err := os.Open(path)
	if err != nil {
		return plan, nil, fmt.Errorf("hive file: %w", err)
	}
	defer f.Close()
	return answer.ReadHive(path, f)
}

// loadWeather reads weather, and says what there is near a site when none was
// named.
func loadWeather(nameOrPath string, site hive.Site) (*climate.Series, error) {
	if nameOrPath != "" {
		return climate.Load(nameOrPath)
	}
	text := "which weather? Give --weather with a file or a built-in year, which hackle weather list shows"
	if site.HasPlace {
		if m, err := climate.Nearest(site.Latitude, site.Longitude, site.Height); err == nil {
			text += fmt.Sprintf("; the nearest to the site in the file is %s, %.0f km away", m.Site.Name, m.Kilometres)
		}
	}
	return nil, errors.New(text)
}

// days asked for by flags.
func (f *seasonFlags) days() answer.Days {
	d := answer.Days{Winter: f.winter, WinterBy: "give --winter"}
	if f.from.given {
		d.From = f.from.day
	}
	if f.to.given {
		d.To = f.to.day
	}
	return d
}

// byFlags names the flags that mend an error of the span.
func byFlags(err error) error {
	var e *answer.SpanError
	switch {
	case !errors.As(err, &e):
		return err
	case e.Backwards:
		return fmt.Errorf("--to %s lies before --from %s", e.Last.Format(time.DateOnly), e.First.Format(time.DateOnly))
	}
	return fmt.Errorf("%w: give --from and --to", err)
}
