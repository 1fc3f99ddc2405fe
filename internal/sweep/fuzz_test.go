package sweep

import (
	"strings"
	"testing"
)

// FuzzReadSites reads whatever a list may hold: sites have names, weather and places
// on earth, or there is an error that names the file.
func FuzzReadSites(f *testing.F) {
	for _, s := range []string{sitesText, "", "site,weather\nA,b\n", "site,weather,height_m\nA,b,1e999\n", "\ufeffsite,weather\n\"A\nB\",c\n"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		sites, err := ReadSites("list", strings.NewReader(text))
		if err != nil {
			if !strings.Contains(err.Error(), "list") {
				t.Fatalf("%v does not name the file", err)
			}
			return
		}
		for _, s := range sites {
			if s.Name == "" || s.Weather == "" || !(s.Latitude >= -90 && s.Latitude <= 90) || !(s.Height <= 9000) {
				t.Fatalf("%+v", s)
			}
		}
	})
}
