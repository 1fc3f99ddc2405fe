package web

import (
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"hackle/internal/store"
)

// site is a server that a test talks to.
type site struct {
	*httptest.Server
	t      *testing.T
	pages  *Server
	store  *store.Store
	client *http.Client
}

// open starts a server on an empty yard.
func open(t *testing.T, change func(*Config)) *site {
	t.Helper()
	s, shut := openAt(t, filepath.Join(t.TempDir(), "yard.sqlite"), change)
	t.Cleanup(shut)
	return s
}

// answer is what came back.
type answered struct {
	status int
	body   string
	header http.Header
	at     string // path after redirects
}

func (s *site) do(r *http.Request) answered {
	s.t.Helper()
	got, err := s.client.Do(r)
	if err != nil {
		s.t.Fatal(err)
	}
	defer got.Body.Close()
	text, err := io.ReadAll(got.Body)
	if err != nil {
		s.t.Fatal(err)
	}
	return answered{got.StatusCode, string(text), got.Header, got.Request.URL.RequestURI()}
}

func (s *site) request(method, path, body string) *http.Request {
	s.t.Helper()
	r, err := http.NewRequestWithContext(s.t.Context(), method, s.URL+path, strings.NewReader(body))
	if err != nil {
		s.t.Fatal(err)
	}
	return r
}

func (s *site) get(path string) answered {
	s.t.Helper()
	return s.do(s.request("GET", path, ""))
}

// post sends a form as a page of the server itself does.
func (s *site) post(path string, form url.Values) answered {
	s.t.Helper()
	r := s.request("POST", path, form.Encode())
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Origin", s.URL)
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	return s.do(r)
}

var eventsOf = regexp.MustCompile(`data-progress="([^"]+)"`)

// settled gets a page and waits until nothing on it is being computed.
func (s *site) settled(path string) answered {
	s.t.Helper()
	for {
		got := s.get(path)
		m := eventsOf.FindStringSubmatch(got.body)
		if m == nil {
			return got
		}
		stream := s.get(m[1]) // ends when the work does
		if !strings.Contains(stream.body, "event: over") {
			s.t.Fatalf("the stream of %s ends without its end:\n%s", path, stream.body)
		}
	}
}

// firstHive makes a hive as somebody does who comes for the first time.
func (s *site) firstHive() (path string) {
	s.t.Helper()
	if got := s.get("/"); got.at != "/new" {
		s.t.Fatalf("an empty yard leads to %s", got.at)
	}
	got := s.post("/new", url.Values{"name": {"By the hedge"}, "type": {"stacked-10"}, "bees": {"8 frames"}, "honey": {"30 kg"}, "site": {"burlington-vt"}})
	if got.status != 200 || !strings.HasSuffix(got.at, "/winter") {
		s.t.Fatalf("a new hive leads to %s: %d\n%s", got.at, got.status, got.body)
	}
	return strings.TrimSuffix(got.at, "/winter")
}

func TestFirstStart(t *testing.T) {
	s := open(t, nil)
	hive := s.firstHive()
	got := s.settled(hive + "/winter")
	for _, says := range []string{"of its 30 kg", "By the hedge", "<svg", "Burned", "Balances close to"} {
		if !strings.Contains(strings.ToLower(got.body), strings.ToLower(says)) {
			t.Errorf("the page of winter does not say %q", says)
		}
	}
	for _, no := range []string{"<script>", " style=", "onclick", "http://", "https://"} {
		if strings.Contains(got.body, no) {
			t.Errorf("the page holds %q", no)
		}
	}
	if got := s.get("/"); !strings.Contains(got.body, "of its 30 kg") {
		t.Errorf("the yard does not tell the answer:\n%s", got.body)
	}
	got = s.post("/new", url.Values{"name": {""}, "type": {"stacked-10"}, "boxes": {"deep, tower"}, "bees": {"many"}, "honey": {"30"}})
	for _, says := range []string{"A name is wanted", "tower", "many", "unit"} {
		if !strings.Contains(got.body, says) {
			t.Errorf("faults of the form do not name %q", says)
		}
	}
	if got.status != 422 {
		t.Errorf("a form with faults is answered with %d", got.status)
	}
}

// A result outlives the program.
func TestResultsAreKept(t *testing.T) {
	path := filepath.Join(t.TempDir(), "yard.sqlite")
	s, shut := openAt(t, path, nil)
	hive := s.firstHive()
	s.settled(hive + "/winter")
	before := s.get(hive + "/cutaway?hour=400").body
	shut()
	s, shut = openAt(t, path, nil)
	defer shut()
	if got := s.get(hive + "/winter"); !strings.Contains(got.body, "of its 30 kg") {
		t.Error("after a restart the answer is computed again")
	}
	if got := s.get(hive + "/cutaway?hour=400"); got.body != before || !strings.Contains(before, `class="cutaway"`) {
		t.Error("after a restart the cutaway is another one")
	}
	if all := s.pages.bench.list(); len(all) != 0 {
		t.Errorf("after a restart %s", all[0].title)
	}
}

func TestTicks(t *testing.T) {
	for _, c := range []struct{ low, high float64 }{{-23.4, 31}, {0, 0}, {0, 0.004}, {12, 3100}, {5, 5}} {
		all := ticks(c.low, c.high, 5)
		if all[0] > c.low || all[len(all)-1] < c.high || len(all) > 8 || len(all) < 2 {
			t.Errorf("%v: ticks %v", c, all)
		}
	}
}
