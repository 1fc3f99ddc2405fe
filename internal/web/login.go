package web

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"fmt"
	"net"
	"net/http"
	"strings"
	"sync"
	"time"
	"unicode/utf8"

	"golang.org/x/crypto/argon2"

	"hackle/internal/store"
)

// Cost of a password: Argon2id with the second recommended option of RFC 9106,
// section 4, but for the lanes, which a small machine has not.
const (
	passes    = 3
	memoryKiB = 64 << 10
	lanes     = 1
	saltBytes = 16
	hashBytes = 32
)

// Of a session and of failed tries. Common practice, no source.
const (
	sessionIdle    = 12 * time.Hour     // without a request
	sessionMost    = 7 * 24 * time.Hour // from its beginning
	sessionStep    = time.Minute        // how often it is noted that it is in use
	freeTries      = 5                  // failures before waiting begins
	waitFirst      = 10 * time.Second   // doubles with every failure
	waitMost       = 15 * time.Minute
	forgetTries    = time.Hour
	mostAddresses  = 10_000
	shortestSecret = 10 // characters of a password
	longestSecret  = 1000
	sessionCookie  = "hackle_session"
)

// HashPassword makes the hash that [Config] takes, in the PHC string format. A
// password has 10 to 1,000 characters.
func HashPassword(password string) (string, error) {
	if n := utf8.RuneCountInString(password); n < shortestSecret || n > longestSecret {
		return "", fmt.Errorf("a password of %d characters; wanted are %d to %d, such as four or five words", n, shortestSecret, longestSecret)
	}
	salt := make([]byte, saltBytes)
	rand.Read(salt) // never fails
	hash := argon2.IDKey([]byte(password), salt, passes, memoryKiB, lanes, hashBytes)
	enc := base64.RawStdEncoding
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version, memoryKiB, passes, lanes, enc.EncodeToString(salt), enc.EncodeToString(hash)), nil
}

// secret is a hash taken apart.
type secret struct {
	memory, time uint32
	lanes        uint8
	salt, hash   []byte
}

func parseSecret(text string) (secret, error) {
	var k secret
	bad := errors.New("the hash of the password is damaged; set the password anew")
	parts := strings.Split(text, "$")
	if len(parts) != 6 || parts[0] != "" || parts[1] != "argon2id" || parts[2] != fmt.Sprintf("v=%d", argon2.Version) {
		return k, bad
	}
	if _, err := fmt.Sscanf(parts[3], "m=%d,t=%d,p=%d", &k.memory, &k.time, &k.lanes); err != nil {
		return k, bad
	}
	if k.memory < 8 || k.memory > 1<<20 || k.time < 1 || k.time > 100 || k.lanes < 1 {
		return k, bad
	}
	var errs [2]error
	k.salt, errs[0] = base64.RawStdEncoding.DecodeString(parts[4])
	k.hash, errs[1] = base64.RawStdEncoding.DecodeString(parts[5])
	if errors.Join(errs[:]...) != nil || len(k.salt) < 8 || len(k.hash) < 16 {
		return k, bad
	}
	return k, nil
}

func (k secret) matches(password string) bool {
	got := argon2.IDKey([]byte(password), k.salt, k.time, k.memory, k.lanes, uint32(len(k.hash)))
	return subtle.ConstantTimeCompare(got, k.hash) == 1
}

// doors let in who knows the password. Sessions are kept in the yard's file, so
// that a restart ends none.
type doors struct {
	locked bool
	secret secret
	store  *store.Store
	now    func() time.Time
	one    sync.Mutex // one hash at a time: each takes 64 MB

	mu    sync.Mutex
	tries map[string]tries // by address
}

type tries struct {
	failed int
	last   time.Time
}

func newDoors(password string, kept *store.Store, now func() time.Time) (*doors, error) {
	d := &doors{store: kept, now: now, tries: map[string]tries{}}
	if password == "" {
		return d, nil
	}
	d.locked = true
	var err error
	d.secret, err = parseSecret(password)
	return d, err
}

// wait tells how long an address must wait before its next try.
func (t tries) wait(now time.Time) time.Duration {
	if t.failed < freeTries {
		return 0
	}
	pause := waitMost
	if n := t.failed - freeTries; n < 10 {
		pause = min(waitMost, waitFirst<<n)
	}
	return max(0, t.last.Add(pause).Sub(now))
}

// enter tries a password from an address. It returns the token of a new session,
// or how long to wait before the next try.
func (d *doors) enter(ctx context.Context, address, agent, password string) (token string, wait time.Duration, err error) {
	now := d.now()
	d.mu.Lock()
	for a, t := range d.tries {
		if now.Sub(t.last) > forgetTries {
			delete(d.tries, a)
		}
	}
	t := d.tries[address]
	if wait = t.wait(now); wait > 0 {
		d.mu.Unlock()
		return "", wait, nil
	}
	if len(d.tries) >= mostAddresses {
		d.mu.Unlock()
		return "", waitFirst, nil
	}
	// Counted before it is judged, so that tries made at once count too.
	d.tries[address] = tries{t.failed + 1, now}
	d.mu.Unlock()

	d.one.Lock()
	ok := len(password) <= 4*longestSecret && d.secret.matches(password)
	d.one.Unlock()

	d.mu.Lock()
	if !ok {
		defer d.mu.Unlock()
		return "", d.tries[address].wait(now), nil
	}
	delete(d.tries, address)
	d.mu.Unlock()
	token = rand.Text()
	return token, 0, d.store.PutSession(ctx, store.Session{Hash: hashOf(token), Created: now, Seen: now, Expires: now.Add(sessionIdle), Agent: agent})
}

func hashOf(token string) string {
	sum := sha256.Sum256([]byte(token))
	return hex.EncodeToString(sum[:])
}

// inside reports whether a token is that of a session that goes on.
func (d *doors) inside(ctx context.Context, token string) bool {
	s, err := d.store.SessionOf(ctx, hashOf(token))
	now := d.now()
	if err != nil || !now.Before(s.Expires) || now.Sub(s.Created) > sessionMost {
		return false
	}
	if now.Sub(s.Seen) > sessionStep {
		s.Seen, s.Expires = now, now.Add(sessionIdle)
		if end := s.Created.Add(sessionMost); end.Before(s.Expires) {
			s.Expires = end
		}
		// A session that cannot be lengthened ends early, which harms nobody.
		_ = d.store.PutSession(ctx, s)
	}
	return true
}

// opened lets requests in that need no session or have one. The rest is sent to
// the login page, or refused where that would not help.
func (s *Server) opened(next http.Handler) http.Handler {
	if !s.doors.locked {
		return next
	}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path == "/login" || r.URL.Path == workerPath || strings.HasPrefix(r.URL.Path, "/assets/") {
			next.ServeHTTP(w, r)
			return
		}
		if c, err := r.Cookie(sessionCookie); err == nil && s.doors.inside(r.Context(), c.Value) {
			next.ServeHTTP(w, r)
			return
		}
		if r.Method == http.MethodGet && !strings.HasPrefix(r.URL.Path, "/api/") && !streams(r) {
			http.Redirect(w, r, "/login?to="+urlEscape(r.URL.RequestURI()), http.StatusSeeOther)
			return
		}
		http.Error(w, "Log in first.", http.StatusUnauthorized)
	})
}

// remote is the address that a request came from. Headers that a proxy may set
// are not believed.
func remote(r *http.Request) string {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		return r.RemoteAddr
	}
	return host
}

type loginPage struct {
	To, Problem string
}

func showLogin(v *visit) (view, error) {
	if !v.doors.locked {
		return view{to: "/"}, nil
	}
	return view{Title: "Log in", Bare: true, Body: loginPage{To: local(v.request.URL.Query().Get("to"))}}, nil
}

func enterLogin(v *visit) (view, error) {
	if !v.doors.locked {
		return view{to: "/"}, nil
	}
	to := local(v.request.PostFormValue("to"))
	token, wait, err := v.doors.enter(v.context(), remote(v.request), v.request.UserAgent(), v.request.PostFormValue("password"))
	if err != nil {
		return view{}, err
	}
	if token == "" {
		v.config.Log.Warn("a login failed", "from", remote(v.request))
		status, problem := http.StatusUnauthorized, "That is not the password."
		if wait > 0 {
			status = http.StatusTooManyRequests
			seconds := int(wait.Seconds()) + 1
			v.w.Header().Set("Retry-After", fmt.Sprint(seconds))
			problem = fmt.Sprintf("That is not the password, or it was tried too often. Wait %d seconds before the next try.", seconds)
		}
		return view{Title: "Log in", Bare: true, status: status, Body: loginPage{To: to, Problem: problem}}, nil
	}
	http.SetCookie(v.w, &http.Cookie{Name: sessionCookie, Value: token, Path: "/", HttpOnly: true, Secure: v.config.Secure,
		SameSite: http.SameSiteStrictMode, MaxAge: int(sessionMost.Seconds())})
	return view{to: to}, nil
}

func leaveLogin(v *visit) (view, error) {
	if c, err := v.request.Cookie(sessionCookie); err == nil {
		if err := v.config.Store.EndSession(v.context(), hashOf(c.Value)); err != nil {
			return view{}, err
		}
	}
	http.SetCookie(v.w, &http.Cookie{Name: sessionCookie, Path: "/", HttpOnly: true, Secure: v.config.Secure, SameSite: http.SameSiteStrictMode, MaxAge: -1})
	return view{to: "/login"}, nil
}
