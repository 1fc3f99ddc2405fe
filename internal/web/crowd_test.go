package web

import (
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"net/http"
	"net/url"
	"os"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"hackle/examples"
	"hackle/hive"
	"hackle/yard"
)

// Of the crowd.
const (
	crowdUsers = 50
	crowdTime  = 60 * time.Second
	crowdPause = time.Second // on the mean between two pages of one user
)

// fillYard puts the invented hives of the examples into the yard.
func (s *site) fillYard() (hives []string) {
	s.t.Helper()
	y := yard.Yard{Name: "Alder Yard (invented)", Weather: "burlington-vt"}
	var err error
	if y.ID, err = yard.NewID(); err != nil {
		s.t.Fatal(err)
	}
	if y, err = s.store.Yards.Put(s.t.Context(), y); err != nil {
		s.t.Fatal(err)
	}
	for _, name := range examples.Order() {
		text, err := fs.ReadFile(examples.Files(), name)
		if err != nil {
			s.t.Fatal(err)
		}
		plan, err := hive.Decode(name, strings.NewReader(string(text)))
		if err != nil {
			s.t.Fatal(err)
		}
		h, err := s.pages.addHive(s.t.Context(), y.ID, plan.Hive.Name, string(text))
		if err != nil {
			s.t.Fatal(err)
		}
		hives = append(hives, "/hive/"+string(h.ID))
	}
	return hives
}

// Fifty people look through the invented yard for a minute, on this machine alone.
// Nothing fails; how long pages take is told, not judged.
func TestCrowd(t *testing.T) {
	if os.Getenv("HACKLE_CROWD") == "" {
		t.Skip("fifty users for a minute come with HACKLE_CROWD=1")
	}
	s := open(t, nil)
	hives := s.fillYard()
	var paths []string
	for _, h := range hives {
		for _, tab := range []string{"", "/winter", "/summer", "/water", "/vents", "/cutaway", "/changes"} {
			paths = append(paths, h+tab)
		}
	}
	for _, h := range hives {
		s.settled(h) // computed once
		s.settled(h + "/cutaway")
	}
	paths = append(paths, "/", "/", "/", "/weather", "/new", "/trust", apiRoot+strings.Replace(hives[0], "/hive/", "/hives/", 1)+"/year", hives[0]+"/changes?change="+url.QueryEscape("lid=mineral wool 76 mm"))
	s.settled(paths[len(paths)-1])
	var mu sync.Mutex
	var took []time.Duration
	by := map[string][]time.Duration{}
	failed := map[string]int{}
	end := time.Now().Add(crowdTime)
	var all sync.WaitGroup
	for user := range crowdUsers {
		all.Go(func() {
			chance := rand.New(rand.NewPCG(1, uint64(user)))
			client := &http.Client{Timeout: time.Minute, Transport: &http.Transport{}}
			defer client.CloseIdleConnections()
			for time.Now().Before(end) {
				time.Sleep(time.Duration(chance.Float64() * 2 * float64(crowdPause)))
				path := paths[chance.IntN(len(paths))]
				begun := time.Now()
				got, err := client.Get(s.URL + path)
				text := ""
				if err == nil {
					var body []byte
					body, err = io.ReadAll(got.Body)
					got.Body.Close()
					text = string(body)
				}
				d := time.Since(begun)
				mu.Lock()
				kind := path[strings.LastIndex(path, "/"):]
				switch {
				case err != nil:
					failed[err.Error()]++
				case got.StatusCode != 200 || strings.Contains(text, "data-progress"):
					failed[fmt.Sprintf("%s: %d", path, got.StatusCode)]++
				default:
					took = append(took, d)
					by[kind] = append(by[kind], d)
				}
				mu.Unlock()
			}
		})
	}
	all.Wait()
	for what, n := range failed {
		t.Errorf("%d times: %s", n, what)
	}
	share := func(d []time.Duration, x float64) time.Duration {
		slices.Sort(d)
		return d[int(x*float64(len(d)-1))].Round(100 * time.Microsecond)
	}
	t.Logf("%d users, %v: %d pages; half within %v, 95 %% within %v, the slowest %v", crowdUsers, crowdTime, len(took), share(took, .5), share(took, .95), share(took, 1))
	for kind, d := range by {
		if len(d) > 20 && len(kind) < 40 {
			t.Logf("%-10s %5d pages, half within %v, 95 %% within %v", kind, len(d), share(d, .5), share(d, .95))
		}
	}
}
