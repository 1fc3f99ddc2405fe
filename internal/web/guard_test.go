package web

import (
	"bytes"
	"compress/gzip"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"hackle/climate"
	"hackle/internal/store"
)

// A name that an attacker points at this machine must not open the pages.
func TestOnlyOurOwnHostsAreAnswered(t *testing.T) {
	s := open(t, func(c *Config) { c.Names = []string{"bees.local"} })
	port := s.Listener.Addr().String()[strings.LastIndex(s.Listener.Addr().String(), ":"):]
	for host, want := range map[string]int{
		"127.0.0.1" + port: 200, "localhost" + port: 200, "localhost": 200, "LOCALHOST." + port: 200, "bees.local" + port: 200, "Bees.Local": 200,
		"evil.example": 421, "evil.example" + port: 421, "127.0.0.1.evil.example": 421, "localhost.evil.example": 421, "127.0.0.2": 421, "[::1]" + port: 421, "10.0.0.1": 421, "": 421,
		"0": 421, "0x7f000001": 421, "2130706433": 421, "bees.local@evil.example": 421,
	} {
		r := s.request("GET", "/trust", "")
		r.Host = host
		if host == "" {
			r.Host = " "
		}
		if got := s.do(r); got.status != want {
			t.Errorf("host %q: %d, want %d", host, got.status, want)
		}
	}
}

// Other sites can neither change anything nor read anything.
func TestOtherSitesAreShutOut(t *testing.T) {
	s := open(t, nil)
	form := url.Values{"name": {"Stolen"}, "type": {"stacked-10"}, "bees": {"8 frames"}, "honey": {"30 kg"}, "site": {"burlington-vt"}}.Encode()
	for name, headers := range map[string]map[string]string{
		"another origin":             {"Origin": "https://evil.example"},
		"an opaque origin":           {"Origin": "null"},
		"another port":               {"Origin": "http://127.0.0.1:1"},
		"another site":               {"Sec-Fetch-Site": "cross-site", "Origin": "https://evil.example"},
		"a neighbour":                {"Sec-Fetch-Site": "same-site"},
		"another site, own origin":   {"Sec-Fetch-Site": "cross-site", "Origin": s.URL},
		"another site, no origin":    {"Sec-Fetch-Site": "cross-site"},
		"another site, as its form":  {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate", "Origin": "https://evil.example"},
		"another site, text as JSON": {"Sec-Fetch-Site": "cross-site", "Content-Type": "text/plain"},
	} {
		for _, path := range []string{"/new", "/look", "/weather/choose", "/weather/upload", "/login", "/logout", "/work/x/stop"} {
			r := s.request("POST", path, form)
			r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
			for k, v := range headers {
				r.Header.Set(k, v)
			}
			if got := s.do(r); got.status != http.StatusForbidden {
				t.Errorf("%s posts to %s: %d", name, path, got.status)
			}
		}
	}
	if yards, err := s.store.Yards.All(t.Context(), true); err != nil || len(yards) != 0 {
		t.Errorf("another site made %d yards (%v)", len(yards), err)
	}
	for mode, want := range map[string]int{"no-cors": 403, "cors": 403, "navigate": 200} {
		r := s.request("GET", "/trust", "")
		r.Header.Set("Sec-Fetch-Site", "cross-site")
		r.Header.Set("Sec-Fetch-Mode", mode)
		if got := s.do(r); got.status != want {
			t.Errorf("another site gets a page by %s: %d, want %d", mode, got.status, want)
		}
	}
}

// Every answer, of whatever kind, forbids scripts that are not ours.
func TestEveryAnswerIsGuarded(t *testing.T) {
	s := open(t, nil)
	for _, path := range []string{"/new", "/trust", "/nothing", "/assets/x/hackle.css", "/assets/x/none", "/weather", "/api/v1/none", "/hive/x", "/weather/year.svg?w=burlington-vt"} {
		h := s.get(path).header
		csp := h.Get("Content-Security-Policy")
		for _, part := range []string{"default-src 'none'", "script-src 'self'", "style-src 'self'", "base-uri 'none'", "frame-ancestors 'none'", "form-action 'self'"} {
			if !strings.Contains(csp, part) {
				t.Errorf("%s: the policy lacks %s: %s", path, part, csp)
			}
		}
		if strings.Contains(csp, "unsafe") || strings.Contains(csp, "http") || strings.Contains(csp, "*") {
			t.Errorf("%s: the policy is loose: %s", path, csp)
		}
		if h.Get("X-Content-Type-Options") != "nosniff" || h.Get("Access-Control-Allow-Origin") != "" {
			t.Errorf("%s: headers %v", path, h)
		}
	}
}

// No path from a client reaches the file system.
func TestPathsLeadNowhere(t *testing.T) {
	s := open(t, nil)
	s.client.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	dir := t.TempDir()
	w, err := climate.Builtin("burlington-vt")
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(dir, "mine.epw")
	f, err := os.Create(file)
	if err != nil {
		t.Fatal(err)
	}
	if err := climate.WriteEPW(f, w); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{
		"/assets/x/../server.go", "/assets/x/..%2f..%2fserver.go", "/assets/x/%2e%2e/%2e%2e/go.mod", "/assets/x/fonts/..%2f..%2ftemplates%2fyard.html", "/assets/x//etc/passwd", "/assets/x/fonts",
		"/assets/../../../../etc/passwd", "/%2e%2e/%2e%2e/etc/passwd", "/hive/..%2f..%2fetc%2fpasswd", "/hive/..%2f..%2fetc%2fpasswd/file", "/hive/%00/winter",
		"/weather?w=" + url.QueryEscape(file), "/weather?w=..%2f..%2fetc%2fpasswd", "/weather?w=series:..%2f..%2fetc%2fpasswd", "/weather/year.svg?w=" + url.QueryEscape(file), "/weather/year.svg?w=%2fetc%2fpasswd",
		"/work/..%2f..%2fetc/events", "/api/v1/hives/..%2f..%2fetc%2fpasswd",
	} {
		got := s.get(path)
		if got.status == 200 && !strings.Contains(got.header.Get("Content-Type"), "event-stream") || strings.Contains(got.body, "root:") || strings.Contains(got.body, "package web") {
			t.Errorf("%s: %d\n%.200s", path, got.status, got.body)
		}
	}
	s.client.CheckRedirect = nil
	s.firstHive()
	yards, err := s.store.Yards.All(t.Context(), false)
	if err != nil {
		t.Fatal(err)
	}
	if got := s.post("/weather/choose", url.Values{"yard": {string(yards[0].ID)}, "w": {file}}); got.status != 404 {
		t.Errorf("a path is taken for weather: %d", got.status)
	}
}

// What is too large is refused whatever it claims to be.
func TestSizesAreBounded(t *testing.T) {
	s := open(t, nil)
	own := func(r *http.Request) *http.Request {
		r.Header.Set("Sec-Fetch-Site", "same-origin")
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		return r
	}
	if got := s.do(own(s.request("POST", "/new", "name="+strings.Repeat("x", mostForm)))); got.status != 413 {
		t.Errorf("a large form: %d", got.status)
	}
	// Without a length, so that only reading finds out.
	r, err := http.NewRequestWithContext(t.Context(), "POST", s.URL+"/new", io.MultiReader(strings.NewReader("name="), &endless{left: 2 * mostForm}))
	if err != nil {
		t.Fatal(err)
	}
	if got := s.do(own(r)); got.status != 413 {
		t.Errorf("a form without end: %d", got.status)
	}
	r = s.request("POST", "/weather/upload", "x")
	r.ContentLength = mostWeather + 1
	r.Body = io.NopCloser(&endless{left: mostWeather + 1})
	got, err := s.client.Do(own(r))
	if err == nil { // else the server hung up first, which is as good
		if got.StatusCode != 413 {
			t.Errorf("a large upload: %d", got.StatusCode)
		}
		got.Body.Close()
	}
	if got := s.post("/new", url.Values{"name": {strings.Repeat("x", 5000)}, "type": {"stacked-10"}, "bees": {"8 frames"}, "honey": {"30 kg"}, "site": {"burlington-vt"}, "boxes": {strings.Repeat("deep,", 500)}}); got.status != 422 {
		t.Errorf("a tower of boxes: %d", got.status)
	}
}

type endless struct{ left int }

func (e *endless) Read(p []byte) (int, error) {
	if e.left <= 0 {
		return 0, io.EOF
	}
	n := min(len(p), e.left)
	for i := range n {
		p[i] = 'x'
	}
	e.left -= n
	return n, nil
}

func upload(t *testing.T, s *site, name string, text []byte, fields map[string]string) answered {
	t.Helper()
	var b bytes.Buffer
	m := multipart.NewWriter(&b)
	for k, v := range fields {
		if err := m.WriteField(k, v); err != nil {
			t.Fatal(err)
		}
	}
	part, err := m.CreateFormFile("file", name)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := part.Write(text); err != nil {
		t.Fatal(err)
	}
	if err := m.Close(); err != nil {
		t.Fatal(err)
	}
	r := s.request("POST", "/weather/upload", b.String())
	r.Header.Set("Content-Type", m.FormDataContentType())
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	return s.do(r)
}

// An upload is read and what it says is kept, not the file; what cannot be read is
// refused with its fault.
func TestUploadsAreParsed(t *testing.T) {
	s := open(t, nil)
	w, err := climate.Builtin("minneapolis-mn")
	if err != nil {
		t.Fatal(err)
	}
	var epw bytes.Buffer
	if err := climate.WriteEPW(&epw, w); err != nil {
		t.Fatal(err)
	}
	const marker = "SMUGGLED-7c1f"
	text := bytes.Replace(epw.Bytes(), []byte("COMMENTS 2"), []byte("COMMENTS 2,"+marker), 1)
	if !bytes.Contains(text, []byte(marker)) {
		t.Fatal("the file has no second line of comments to hide a mark in")
	}
	got := upload(t, s, `..\..\etc/my <yard>.epw`, text, nil)
	if got.status != 200 || !strings.Contains(got.at, "series") || !strings.Contains(got.body, "Minneapolis") {
		t.Fatalf("an EPW file: %d at %s\n%.500s", got.status, got.at, got.body)
	}
	for _, tail := range []string{"", "-wal"} {
		kept, err := os.ReadFile(s.store.Path() + tail)
		if err == nil && bytes.Contains(kept, []byte(marker)) {
			t.Error("the file itself was kept")
		}
	}
	var bomb bytes.Buffer
	z := gzip.NewWriter(&bomb)
	if _, err := io.Copy(z, &endless{left: 300 << 20}); err != nil {
		t.Fatal(err)
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string][]byte{
		"a bomb": bomb.Bytes(), "a picture": []byte("\x89PNG\r\n\x1a\n\x00\x00"), "a page": []byte("<script>alert(1)</script>"), "half a file": text[:len(text)/3*2], "nothing": nil,
	} {
		got := upload(t, s, "x.epw", text, nil)
		if got.status != 422 || !strings.Contains(got.body, `role="alert"`) || strings.Contains(got.body, "<script>alert") {
			t.Errorf("%s: %d\n%.300s", name, got.status, got.body)
		}
	}
	if got := s.post("/weather/upload", url.Values{"file": {"x"}}); got.status != 422 {
		t.Errorf("a form in place of an upload: %d", got.status)
	}
}

// Whatever a keeper writes is text.
func TestNamesAreText(t *testing.T) {
	s := open(t, nil)
	const evil = `<img src=x onerror=alert(1)>"'</script>`
	got := s.post("/new", url.Values{"name": {evil}, "type": {"stacked-10"}, "bees": {"8 frames"}, "honey": {"30 kg"}, "site": {"portland-or"}, "yard": {evil}})
	if got.status != 200 {
		t.Fatalf("%d\n%.2000s", got.status, got.body)
	}
	hive := strings.TrimSuffix(got.at, "/winter")
	s.settled(got.at)
	for _, path := range []string{"/", hive, hive + "/winter", hive + "/summer", hive + "/water", hive + "/vents", "/weather", "/new", "/new?name=" + url.QueryEscape(evil), "/nothing" + url.PathEscape(evil)} {
		if got := s.get(path); strings.Contains(got.body, "<img src=x") {
			t.Errorf("%s: the name is taken for HTML", path)
		}
	}
	if h := s.get(hive + "/file").header; !strings.HasPrefix(h.Get("Content-Disposition"), "attachment") || strings.Contains(h.Get("Content-Disposition"), "<") {
		t.Errorf("the hive file comes as %v", h)
	}
}

const password = "smoke willow seven crates"

// locked starts a server behind a password with a clock to turn.
func locked(t *testing.T) (*site, func(time.Duration)) {
	t.Helper()
	var mu sync.Mutex
	now := time.Now()
	clock := func() time.Time {
		mu.Lock()
		defer mu.Unlock()
		return now
	}
	hash, err := HashPassword(password)
	if err != nil {
		t.Fatal(err)
	}
	s := open(t, func(c *Config) {
		path := c.Store.Path() + ".clocked"
		kept, err := store.Open(t.Context(), path, store.Options{Now: clock})
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { kept.Close() })
		c.Store, c.Password, c.Now = kept, hash, clock
	})
	return s, func(d time.Duration) {
		mu.Lock()
		defer mu.Unlock()
		now = now.Add(d)
	}
}

func (s *site) login(with string) answered {
	s.t.Helper()
	return s.post("/login", url.Values{"password": {with}, "to": {"/trust"}})
}

func TestLogin(t *testing.T) {
	s, turn := locked(t)
	for path, want := range map[string]int{"/": 200, "/trust": 200, "/weather": 200, "/api/v1/hives": 401, "/work/x/events": 401} {
		got := s.get(path)
		if got.status != want || want == 200 && !strings.HasPrefix(got.at, "/login") {
			t.Errorf("%s without a login: %d at %s", path, got.status, got.at)
		}
	}
	if got := s.post("/new", url.Values{"name": {"x"}}); got.status != 401 {
		t.Errorf("a form without a login: %d", got.status)
	}
	if got := s.login("smoke willow seven crate"); got.status != 401 || got.header.Get("Set-Cookie") != "" {
		t.Errorf("a wrong password: %d", got.status)
	}
	s.client.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	got := s.login(password)
	cookie := got.header.Get("Set-Cookie")
	if got.status != 303 || got.header.Get("Location") != "/trust" || !strings.Contains(cookie, "HttpOnly") || !strings.Contains(cookie, "SameSite=Strict") {
		t.Fatalf("the right password: %d, %q", got.status, cookie)
	}
	for _, to := range []string{"//evil.example", "https://evil.example", `/\evil.example`, "javascript:alert(1)", "/ok\r\nX: y"} {
		if got := s.post("/login", url.Values{"password": {password}, "to": {to}}); got.header.Get("Location") != "/" {
			t.Errorf("a login leads to %q for %q", got.header.Get("Location"), to)
		}
	}
	s.client.CheckRedirect = nil
	if got := s.get("/trust"); got.at != "/trust" || !strings.Contains(got.body, "Log out") {
		t.Errorf("after the login at %s", got.at)
	}
	// A session that is used lives on, one that is not ends, and none is older than
	// its most.
	turn(sessionIdle - time.Minute)
	if got := s.get("/trust"); got.at != "/trust" {
		t.Error("a session in use ends")
	}
	turn(sessionIdle + 2*time.Minute)
	if got := s.get("/trust"); got.at == "/trust" {
		t.Error("a session that nobody used lives on")
	}
	s.login(password)
	for range int(sessionMost/sessionIdle)*2 + 2 {
		turn(sessionIdle / 2)
		s.get("/trust")
	}
	if got := s.get("/trust"); got.at == "/trust" {
		t.Error("a session lives for ever")
	}
	s.login(password)
	at, err := url.Parse(s.URL)
	if err != nil {
		t.Fatal(err)
	}
	stolen := s.client.Jar.Cookies(at)
	s.post("/logout", nil)
	s.client.Jar, _ = cookiejar.New(nil) // cannot fail
	s.client.Jar.SetCookies(at, stolen)
	if got := s.get("/trust"); got.at == "/trust" {
		t.Error("a session goes on after it was ended")
	}
	for _, token := range []string{"", "x", strings.Repeat("A", 26)} {
		s.client.Jar, _ = cookiejar.New(nil)
		s.client.Jar.SetCookies(at, []*http.Cookie{{Name: sessionCookie, Value: token}})
		if got := s.get("/trust"); got.at == "/trust" {
			t.Errorf("the token %q opens", token)
		}
	}
}

// Guessing is slow, however it is tried.
func TestGuessingIsSlow(t *testing.T) {
	s, turn := locked(t)
	var all sync.WaitGroup
	var mu sync.Mutex
	judged, held := 0, 0
	for i := range 3 * freeTries { // at once
		all.Go(func() {
			_, wait, err := s.pages.doors.enter(t.Context(), "192.0.2.7", "", fmt.Sprintf("guess number %d", i))
			mu.Lock()
			defer mu.Unlock()
			switch {
			case err != nil:
				t.Error(err)
			case wait > 0:
				held++
			default:
				judged++
			}
		})
	}
	all.Wait()
	if judged > freeTries || held < 2*freeTries {
		t.Errorf("of %d guesses at once %d were judged", 3*freeTries, judged)
	}
	if token, wait, _ := s.pages.doors.enter(t.Context(), "192.0.2.7", "", password); token != "" || wait <= 0 {
		t.Error("the right password is let in while waiting is due")
	}
	if token, _, _ := s.pages.doors.enter(t.Context(), "192.0.2.8", "", password); token == "" {
		t.Error("another address must wait too")
	}
	for range freeTries {
		s.login("wrong again and again")
	}
	got := s.login("wrong again and again")
	if got.status != 429 || got.header.Get("Retry-After") == "" {
		t.Errorf("one guess too many: %d, retry after %q", got.status, got.header.Get("Retry-After"))
	}
	turn(waitMost + time.Second)
	if got := s.login(password); got.status != 200 {
		t.Errorf("after waiting: %d", got.status)
	}
	pause := time.Duration(0)
	for n := freeTries; n < 60; n++ {
		p := tries{n, time.Unix(0, 0)}.wait(time.Unix(0, 0))
		if p < pause || p > waitMost || p <= 0 {
			t.Errorf("after %d failures the pause is %v", n, p)
		}
		pause = p
	}
}

func TestPasswords(t *testing.T) {
	for _, bad := range []string{"", "short", "123456789", strings.Repeat("x", longestSecret+1)} {
		if _, err := HashPassword(bad); err == nil {
			t.Errorf("%d characters are taken for a password", len(bad))
		}
	}
	a, err := HashPassword(password)
	if err != nil {
		t.Fatal(err)
	}
	b, err := HashPassword(password)
	if err != nil {
		t.Fatal(err)
	}
	if a == b || !strings.HasPrefix(a, "$argon2id$v=19$m=65536,t=3,p=1$") || strings.Contains(a, password) {
		t.Errorf("hashes %q and %q", a, b)
	}
	k, err := parseSecret(a)
	if err != nil || !k.matches(password) || k.matches(password+" ") {
		t.Errorf("%q does not tell its password from others (%v)", a, err)
	}
	for _, bad := range []string{"x", "$argon2i$v=19$m=65536,t=3,p=1$AAAAAAAAAAA$AAAA", strings.Replace(a, "m=65536", "m=9999999999", 1), strings.Replace(a, "t=3", "t=0", 1), a[:40]} {
		if _, err := New(Config{Password: bad}); err == nil {
			t.Errorf("the hash %q is taken", bad)
		}
	}
}
