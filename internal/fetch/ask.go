package fetch

import (
	"context"
	"crypto/tls"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"
	"unicode"
)

// passing tells whether a status may be another one a little later.
func passing(status int) bool {
	switch status {
	case http.StatusRequestTimeout, http.StatusTooEarly, http.StatusTooManyRequests, http.StatusInternalServerError,
		http.StatusBadGateway, http.StatusServiceUnavailable, http.StatusGatewayTimeout:
		return true
	}
	return false
}

// errRedirect refuses to be led elsewhere.
type errRedirect struct{ to string }

func (e *errRedirect) Error() string { return "a redirect to " + e.to }

// failure is an attempt that brought no answer.
type failure struct {
	err     *Error
	again   bool          // whether another attempt may bring one
	notLess time.Duration // what the service asks to wait
}

// ask gets the text of an answer, by as many attempts as are allowed.
func (c *Client) ask(ctx context.Context, q *query) ([]byte, error) {
	attempts := c.Attempts
	if attempts <= 0 {
		attempts = defaultAttempts
	}
	client := c.httpClient()
	wait := firstWait
	for n := 1; ; n++ {
		body, f := c.attempt(ctx, client, q)
		if f == nil {
			return body, nil
		}
		if err := ctx.Err(); err != nil {
			return nil, fmt.Errorf("weather from %s: %w", q.address, err)
		}
		f.err.Attempts = n
		if !f.again || n >= attempts {
			return nil, f.err
		}
		pause := time.Duration(float64(wait) * (0.5 + 0.5*c.jitter()))
		if f.notLess > longestWait {
			f.err.Found += fmt.Sprintf(", and the wish to be asked again in %v", f.notLess.Round(time.Second))
			return nil, f.err
		}
		if err := c.sleep(ctx, max(pause, f.notLess)); err != nil {
			return nil, fmt.Errorf("weather from %s: %w", q.address, err)
		}
		wait = min(2*wait, longestWait)
	}
}

// httpClient builds the client of one Get: no cookies, no redirect to elsewhere.
func (c *Client) httpClient() *http.Client {
	transport := c.Transport
	if transport == nil {
		transport = http.DefaultTransport
	}
	return &http.Client{
		Transport: transport,
		CheckRedirect: func(next *http.Request, via []*http.Request) error {
			first := via[0].URL
			if len(via) > 3 {
				return &errRedirect{"a fourth address"}
			}
			if next.URL.Host != first.Host || next.URL.Scheme != first.Scheme || next.URL.User != nil {
				return &errRedirect{next.URL.Scheme + "://" + next.URL.Host}
			}
			return nil
		},
	}
}

// attempt asks once.
func (c *Client) attempt(ctx context.Context, client *http.Client, q *query) ([]byte, *failure) {
	timeout := c.Timeout
	if timeout <= 0 {
		timeout = defaultTimeout
	}
	ctx, cancel := context.WithTimeout(ctx, timeout)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, q.url.String(), nil)
	if err != nil {
		return nil, &failure{err: &Error{Address: q.address, Err: err}}
	}
	req.Header.Set("Accept", "application/json")
	req.Header.Set("User-Agent", "hackle")
	resp, err := client.Do(req)
	if err != nil {
		return nil, noAnswer(q, err, timeout)
	}
	defer resp.Body.Close() // read to its end or given up
	if resp.StatusCode != http.StatusOK {
		return nil, c.refused(q, resp)
	}
	if kind, _, err := mime.ParseMediaType(resp.Header.Get("Content-Type")); err != nil || kind != "application/json" {
		return nil, &failure{err: &Error{Address: q.address, Status: resp.StatusCode, Field: "content type",
			Found: shown(resp.Header.Get("Content-Type")), Accepted: "application/json (a page in between, such as a network's log-in, answers otherwise)"}}
	}
	most := c.MaxBytes
	if most <= 0 {
		most = defaultMaxBytes
	}
	body, err := io.ReadAll(io.LimitReader(resp.Body, most+1))
	if int64(len(body)) > most || resp.ContentLength > most {
		return nil, &failure{err: &Error{Address: q.address, Status: resp.StatusCode,
			Found: fmt.Sprintf("more than %d bytes", most), Accepted: fmt.Sprintf("an answer of at most %d bytes uncompressed", most)}}
	}
	if err != nil {
		f := noAnswer(q, err, timeout)
		f.err.Status = resp.StatusCode
		if !f.err.timedOut() {
			f.err.Found = fmt.Sprintf("an answer that breaks off after %d bytes", len(body))
		}
		return nil, f
	}
	return body, nil
}

// errTimeout is the cause of an attempt that took too long.
var errTimeout = errors.New("time-out")

func (e *Error) timedOut() bool { return errors.Is(e.Err, errTimeout) }

// noAnswer turns an error of the connection into a failure. The address within
// such an error may carry a key, and is dropped.
func noAnswer(q *query, err error, timeout time.Duration) *failure {
	var elsewhere *errRedirect
	if errors.As(err, &elsewhere) {
		return &failure{err: &Error{Address: q.address, Found: elsewhere.Error(), Accepted: "an answer from the host of the address itself; set the new address if you trust it"}}
	}
	if errors.Is(err, context.DeadlineExceeded) {
		return &failure{err: &Error{Address: q.address, Found: fmt.Sprintf("no whole answer within %v", timeout), Err: errTimeout}, again: true}
	}
	var carried *url.Error
	if errors.As(err, &carried) {
		err = carried.Err
	}
	var untrusted *tls.CertificateVerificationError
	return &failure{err: &Error{Address: q.address, Err: err}, again: !errors.As(err, &untrusted)}
}

// refused reads why the service refuses.
func (c *Client) refused(q *query, resp *http.Response) *failure {
	f := &failure{err: &Error{Address: q.address, Status: resp.StatusCode}, again: passing(resp.StatusCode)}
	f.notLess = c.retryAfter(resp.Header.Get("Retry-After"))
	const most = 4096
	text, err := io.ReadAll(io.LimitReader(resp.Body, most))
	if err != nil {
		return f // the status says enough
	}
	var told struct {
		Reason string `json:"reason"`
	}
	if json.Unmarshal(text, &told) == nil && told.Reason != "" {
		f.err.Found = "the reason " + shown(told.Reason)
	}
	return f
}

// retryAfter reads the header of that name: seconds, or a date. What is neither
// is passed over.
func (c *Client) retryAfter(text string) time.Duration {
	text = strings.TrimSpace(text)
	if s, err := strconv.ParseInt(text, 10, 64); err == nil {
		const year = 365 * 24 * 3600
		return time.Duration(min(max(s, 0), year)) * time.Second
	}
	if at, err := http.ParseTime(text); err == nil {
		return max(at.Sub(c.now()), 0)
	}
	return 0
}

// shown quotes a text of the service for a message: short, in one line, without
// marks that move a terminal's cursor.
func shown(s string) string {
	const most = 200
	clean := strings.Map(func(r rune) rune {
		if r == '\n' || r == '\t' {
			return ' '
		}
		if !unicode.IsPrint(r) {
			return -1
		}
		return r
	}, s)
	if runes := []rune(clean); len(runes) > most {
		clean = string(runes[:most]) + "..."
	}
	return strconv.Quote(clean)
}
