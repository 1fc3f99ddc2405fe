package web

import (
	"context"
	"net"
	"net/http"
	"net/netip"
	"slices"
	"strings"
	"time"
)

// policy lets pages load what the server itself sends and nothing else, and runs
// no script that stands inside a page.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; font-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// guard is what every request passes before anything reads it.
func (s *Server) guard(next http.Handler) http.Handler {
	crossing := http.NewCrossOriginProtection() // what changes anything must come from our own pages
	crossing.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.config.Log.Warn("refused a request from another origin", "path", r.URL.Path, "origin", r.Header.Get("Origin"))
		http.Error(w, "This comes from another site and was refused.", http.StatusForbidden)
	}))
	inner := crossing.Handler(s.opened(next))
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Permissions-Policy", "camera=(), geolocation=(), microphone=(), payment=(), usb=()")
		h.Set("Cache-Control", "no-store")
		if !s.addressed(r) {
			// A name that somebody else points at this machine would let their pages
			// read ours.
			s.config.Log.Warn("refused a request for a host that is not ours", "host", r.Host)
			http.Error(w, "hackle does not answer to this address. Start it with --name to add one.", http.StatusMisdirectedRequest)
			return
		}
		if site := r.Header.Get("Sec-Fetch-Site"); site == "cross-site" && r.Header.Get("Sec-Fetch-Mode") != "navigate" {
			http.Error(w, "Other sites may link here and no more.", http.StatusForbidden)
			return
		}
		limit := int64(mostForm)
		if r.Method == http.MethodPost && (r.URL.Path == weatherUpload || r.URL.Path == loggerUpload) {
			limit = mostWeather
		}
		if r.ContentLength > limit {
			h.Set("Connection", "close")
			http.Error(w, "What was sent is larger than is accepted here.", http.StatusRequestEntityTooLarge)
			return
		}
		r.Body = http.MaxBytesReader(w, r.Body, limit)
		if !streams(r) {
			// Who reads slowly is cut off; a connection that knows no deadlines is none
			// of the network.
			_ = http.NewResponseController(w).SetWriteDeadline(time.Now().Add(2 * mostTime))
			ctx, cancel := context.WithTimeout(r.Context(), mostTime)
			defer cancel()
			r = r.WithContext(ctx)
		}
		inner.ServeHTTP(w, r)
	})
}

// streams reports whether a request asks for a stream, which has no end of its own.
func streams(r *http.Request) bool { return strings.HasSuffix(r.URL.Path, "/events") }

// addressed reports whether the Host of a request is one of this server: the
// address that the connection came in on, localhost on a loopback connection, or
// one of the names given at the start.
func (s *Server) addressed(r *http.Request) bool {
	host := r.Host
	if h, _, err := net.SplitHostPort(host); err == nil {
		host = h
	}
	host = strings.ToLower(strings.TrimSuffix(strings.Trim(host, "[]"), "."))
	if slices.Contains(s.config.Names, host) {
		return true
	}
	local, ok := r.Context().Value(http.LocalAddrContextKey).(*net.TCPAddr)
	if !ok {
		return false
	}
	here := local.AddrPort().Addr().Unmap()
	if host == "localhost" {
		return here.IsLoopback()
	}
	asked, err := netip.ParseAddr(host)
	return err == nil && asked.Unmap().WithZone("") == here.WithZone("")
}
