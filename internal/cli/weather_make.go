package cli

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"hackle/climate"
	"hackle/quantity"
)

// placedNormals is the JSON of monthly normals.
type placedNormals struct {
	Name      string        `json:"name"`
	Source    string        `json:"source"`
	Latitude  float64       `json:"latitude_deg"`
	Longitude float64       `json:"longitude_deg"`
	Height    float64       `json:"height_m"`
	ZoneHours float64       `json:"zone_hours"`
	HasRain   bool          `json:"has_rain"`
	Months    []monthNormal `json:"months"`
	Files     []string      `json:"files"`
}

type monthNormal struct {
	Month       time.Month `json:"month"`
	Low         float64    `json:"daily_low_c"`
	High        float64    `json:"daily_high_c"`
	MeanAbove   float64    `json:"mean_above_middle_k"` // 0: not known
	RelHumidity float64    `json:"relative_humidity"`   // 0: the dew point is given
	DewPoint    float64    `json:"dew_point_c"`
	Wind        float64    `json:"wind_m_s"`       // 0: not known
	Sun         float64    `json:"sun_kwh_m2_day"` // 0: not known
	SunHours    float64    `json:"sun_hours_day"`  // 0: not known
	RainDays    float64    `json:"rain_days"`
	Rain        float64    `json:"rain_mm"`
	Spread      float64    `json:"spread_between_days_k"` // 0: not known
	Persistence float64    `json:"persistence"`           // 0: not known
}

func (p *program) weatherNormals() *cobra.Command {
	var out string
	var force bool
	c := p.command(&cobra.Command{
		Use:   "normals W",
		Short: "Write the monthly normals of weather, to alter and make weather from",
		Long: `Write the twelve monthly normals of weather, in the file that hackle weather make
reads: YAML with place, and rows of twelve values each with a unit, January first.
Without --out it is printed. Put the figures of your own weather service in place
of those that it knows, delete rows that it does not know, and make weather from it.

Needed are daily low, daily high, and relative humidity or dew point. Further rows:
daily mean, wind speed (at 10 m), sun hours (h/day or h/month) or radiation
(kWh/m²/day, MJ/m²/day or W/m²), rain days, rain, spread between days, persistence,
spread of range, sun and warmth, wind shape. What is left out is filled by rules
that the made weather names.

W is a weather file of a year or more, or the name of a built-in year.`,
		Example: `  hackle weather normals burlington-vt
  hackle weather normals ankara-tr --out my-normals.yaml
  hackle weather make --normals my-normals.yaml --out yard.epw`,
		RunE: func(_ *cobra.Command, args []string) error {
			if err := exactly(args, 1, "one weather file or built-in name"); err != nil {
				return err
			}
			if out != "" {
				if err := free(out, force); err != nil {
					return err
				}
			}
			n, err := normalsLike(args[0])
			if err != nil {
				return err
			}
			var text bytes.Buffer
			if err := n.Write(&text); err != nil {
				return err
			}
			result := normalsShown(n)
			if out != "" {
				if err := writeBytes(out, text.Bytes()); err != nil {
					return err
				}
				result.Files = append(result.Files, out)
			}
			return p.write(result, func(b *bytes.Buffer) error {
				if out == "" {
					b.Write(text.Bytes())
					return nil
				}
				fmt.Fprintf(b, "Normals of %s.\nWritten: %s\n", n.Name, out)
				return nil
			})
		},
	})
	c.Flags().StringVar(&out, "out", "", "write them to this `file`")
	c.Flags().BoolVar(&force, "force", false, "replace the file when it is there")
	return c
}

func normalsShown(n climate.PlacedNormals) placedNormals {
	s := placedNormals{Name: n.Name, Source: n.Source, Latitude: n.Latitude, Longitude: n.Longitude, Height: n.Height, ZoneHours: n.Zone.Hours(), HasRain: n.HasRain, Files: []string{}}
	for i, m := range n.Months {
		s.Months = append(s.Months, monthNormal{time.Month(i + 1), m.Low, m.High, m.MeanAbove, m.RelHumidity, m.DewPoint, m.Wind, m.Sun / 1000, m.SunHours, m.RainDays, m.Rain, m.Spread, m.Persistence})
	}
	return s
}

// normalsLike are the normals of a built-in site or of a weather file.
func normalsLike(nameOrPath string) (climate.PlacedNormals, error) {
	if _, err := os.Stat(nameOrPath); err != nil { // a file outranks a site, as in climate.Load
		sites, err := climate.Sites()
		if err != nil {
			return climate.PlacedNormals{}, internal(err)
		}
		for _, s := range sites {
			if s.Name == nameOrPath && s.Basis != climate.TypicalYear {
				n, err := s.Normals()
				return climate.PlacedNormals{Normals: n, Latitude: s.Latitude, Longitude: s.Longitude, Height: s.Height, Zone: s.Zone}, err
			}
		}
	}
	w, err := openWeather(nameOrPath)
	if err != nil {
		return climate.PlacedNormals{}, err
	}
	n, err := climate.NormalsOf(w)
	return climate.PlacedNormals{Normals: n, Latitude: w.Latitude, Longitude: w.Longitude, Height: w.Height, Zone: w.Zone}, err
}

// largestNormals is the largest file of normals that is read [byte].
const largestNormals = 1 << 20

// readNormals reads a file of normals.
func readNormals(path string) (climate.PlacedNormals, error) {
	f, err := os.Open(path)
	if err != nil {
		return climate.PlacedNormals{}, fmt.Errorf("normals: %w", err)
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, largestNormals+1))
	if err != nil {
		return climate.PlacedNormals{}, fmt.Errorf("normals: %w", err)
	}
	if len(text) > largestNormals {
		return climate.PlacedNormals{}, fmt.Errorf("%s: more than 1 MB, which no file of normals has", path)
	}
	n, err := climate.ParseNormals(text)
	if err != nil {
		return n, fmt.Errorf("%s: %w", filepath.Base(path), err)
	}
	if n.Name == "" {
		n.Name = filepath.Base(path)
	}
	if n.Source == "" {
		n.Source = filepath.Base(path)
	}
	return n, nil
}

func (p *program) weatherMake() *cobra.Command {
	var file, like string
	var seed uint64
	var years int
	var out weatherOut
	c := p.command(&cobra.Command{
		Use:   "make --normals FILE | --like W",
		Short: "Make hourly weather from twelve monthly normals",
		Long: `Make hourly weather from monthly normals: those of a file (see hackle weather
normals, which writes one to alter), or those of a built-in year or weather file
with --like. Days vary about the course of the year and follow on each other as
they do there, clear days have a wider range, and humidity stays physical.

Without --years it is one typical year whose months agree with the normals. With
--years it is that many years, from 2001 on, which differ as years do; their dates
mean nothing. The same --seed makes the same hours.

It shows what such a climate is like and holds nothing of a real year.`,
		Example: `  hackle weather make --normals my-normals.yaml --out yard.epw
  hackle weather make --like ankara-tr --seed 7 --out ankara.epw
  hackle weather make --like burlington-vt --years 30 --out thirty.csv`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			var n climate.PlacedNormals
			var err error
			switch {
			case (file == "") == (like == ""):
				return errors.New("normals from where? Give --normals with a file, or --like with a built-in year or weather file")
			case file != "":
				n, err = readNormals(file)
			default:
				n, err = normalsLike(like)
			}
			if err != nil {
				return err
			}
			if err := out.check(file, like); err != nil {
				return err
			}
			if !cmd.Flags().Changed("years") {
				w, err := climate.MakeTypical(n.Normals, n.Latitude, n.Longitude, n.Height, n.Zone, seed)
				if err != nil {
					return err
				}
				return p.madeWeather(&out, w)
			}
			w, err := climate.Make(n.Normals, n.Latitude, n.Longitude, n.Height, n.Zone, seed, years)
			if err != nil {
				return err
			}
			return p.madeWeather(&out, w)
		},
	})
	c.Flags().StringVar(&file, "normals", "", "`file` of monthly normals")
	c.Flags().StringVar(&like, "like", "", "take the normals of a built-in year or weather file `W`")
	c.Flags().Uint64Var(&seed, "seed", 1, "where chance begins")
	c.Flags().IntVar(&years, "years", 0, "make this many years instead of one typical one, at most 200")
	out.flags(c)
	return c
}

func (p *program) weatherDaily() *cobra.Command {
	place := newPlaceFlags()
	windSpeed := amount{kind: quantity.Speed, bare: "m/s"}
	windFrom := amount{kind: quantity.Angle, bare: "deg"}
	var name, noSun string
	var out weatherOut
	c := p.command(&cobra.Command{
		Use:   "daily FILE",
		Short: "Make hourly weather from a station's daily record",
		Long: `Make hourly weather from the record of a weather station, of its longest stretch
without a gap. FILE is told by its content: the open daily layouts GHCN-Daily (.dly,
or CSV by station or by day) and that of the national weather service of the
Netherlands; and the open hourly layout ISD-Lite, which has no sun. It may be
compressed with gzip.

Only some files say where the station is; for the others give --latitude,
--longitude and --height. Every assumption is listed: the hour of the lowest and
highest temperature, the humidity, the sun from the hours of sunshine or the range
of temperature, the wind. A day's shape is a guess; its extremes, rain and, where
the record has them, sun and humidity are the record's.`,
		Example: `  hackle weather daily etmgeg_260.txt --latitude 52.1 --longitude 5.18 --height 2m --out de-bilt.csv
  hackle weather daily USC00431081.dly --latitude 44.5 --longitude 73.2W --height 100m
  hackle weather daily 725300-2018.gz --latitude 41.98 --longitude 87.9W --height 205m --no-sun "cloud cover"`,
		RunE: func(_ *cobra.Command, args []string) error {
			if err := exactly(args, 1, "one file of a station's record"); err != nil {
				return err
			}
			at, err := place.station(name)
			if err != nil {
				return err
			}
			if windSpeed.given && !(windSpeed.value > 0 && windSpeed.value <= 30) {
				return fmt.Errorf("--wind %s, accepted: above 0, up to 30 m/s", windSpeed.text)
			}
			a := climate.Assumptions{WindSpeed: windSpeed.value}
			if windFrom.given {
				if !(windFrom.value >= 0 && windFrom.value <= 360) {
					return fmt.Errorf("--wind-from %s, accepted: 0 to 360 degrees", windFrom.text)
				}
				a.WindFrom = &windFrom.value
			}
			if err := out.check(args[0]); err != nil {
				return err
			}
			w, err := climate.OpenStation(args[0], at, a, noSun)
			if err != nil {
				if at == (climate.Station{}) && needsPlace(err) {
					return fmt.Errorf("%s does not say where the station is: give --latitude, --longitude and --height", args[0])
				}
				return err
			}
			w.Source += "; completed by rule"
			return p.madeWeather(&out, w)
		},
	})
	place.zoned(c)
	c.Flags().StringVar(&name, "name", "", "`name` of the station")
	c.Flags().Var(&windSpeed, "wind", "mean wind where the record has none (default 3 m/s)")
	c.Flags().Var(&windFrom, "wind-from", "direction of the wind where the record has none (default 270 deg)")
	c.Flags().StringVar(&noSun, "no-sun", "", "sun of a record without: \"daily range\" (default), \"cloud cover\" or overcast")
	out.flags(c)
	return c
}

// needsPlace tells whether a record was refused for want of a place.
func needsPlace(err error) bool {
	var f *climate.FileError
	return errors.As(err, &f) && f.Line == 0 && f.Found == noPlace
}

// noPlace is how package climate refuses a record that carries no place.
const noPlace = "no place: this layout carries none"
