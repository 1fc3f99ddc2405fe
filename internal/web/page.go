package web

import (
	"bytes"
	"context"
	"errors"
	"net/http"
	"net/url"
	"strings"

	"hackle/quantity"
)

// weatherUpload is the one address that takes large files.
const weatherUpload = "/weather/upload"

// A page is an entry of the table of pages.
type page struct {
	// route is a pattern of [http.ServeMux] with its method.
	route string
	// tab names the page among those of a hive; empty for others.
	tab string
	// template frames what serve returns; empty when serve writes everything
	// itself or leads to another page.
	template string
	serve    func(*visit) (view, error)
}

// A view is what a page shows.
type view struct {
	Title string
	Place string    // the entry of the main menu that the page belongs to: "yard", "weather", "settings"
	Hive  *hiveHead // heads the pages of a hive, nil elsewhere
	Bare  bool      // without menus
	Body  any       // what the template of the page takes

	status  int    // 0: 200
	to      string // leads there and shows nothing
	written bool   // serve has written the answer itself
}

// hiveHead is what the pages of one hive begin with.
type hiveHead struct {
	ID, Name, Yard, Weather string
}

// link is an entry of a menu.
type link struct {
	Path, Name string
	Current    bool
}

// menu is the main menu. The places name the entries in a view.
func menu(place string) []link {
	return []link{{"/", "Yard", place == "yard"}, {"/notebook/quick", "At the hives", place == "notebook"}, {"/weather", "Weather", place == "weather"}, {"/trust", "How we know", place == "trust"}}
}

// tabs are the pages of a hive, in the order of the table.
func tabs(hive string, current string) (all []link) {
	for _, p := range pages() {
		if p.tab != "" {
			path := strings.Replace(strings.TrimPrefix(p.route, "GET "), "{hive}", hive, 1)
			all = append(all, link{path, p.tab, p.tab == current})
		}
	}
	return all
}

// A visit is one request for a page by one reader.
type visit struct {
	*Server
	w       http.ResponseWriter
	request *http.Request
	system  quantity.System
	theme   string // "light", "dark", or empty for what the reader's machine prefers
}

func (v *visit) context() context.Context { return v.request.Context() }

// pages is the table of all pages.
func pages() []page {
	all := []page{
		{route: "GET /login", template: "login", serve: showLogin},
		{route: "POST /login", template: "login", serve: enterLogin},
		{route: "POST /logout", serve: leaveLogin},
		{route: "POST /look", serve: setLook},
		{route: "GET /work", template: "work", serve: showWork},
		{route: "GET /work/{key}/events", serve: showProgress},
		{route: "POST /work/{key}/stop", serve: stopWork},
		{route: "POST /work/{key}/again", serve: redoWork},
		{route: "GET /{$}", template: "yard", serve: showYard},
		{route: "GET /new", template: "new", serve: showNew},
		{route: "POST /new", template: "new", serve: makeNew},
		{route: "GET /hive/{hive}", tab: "At a glance", template: "hive", serve: showHive},
		{route: "GET /hive/{hive}/cutaway", tab: "Cutaway", template: "cutaway", serve: showCutaway},
		{route: "GET /hive/{hive}/cutaway.json", serve: sendCutawayYear},
		{route: "GET /hive/{hive}/cutaway/words", serve: sendCutawayWords},
		{route: "GET /hive/{hive}/cutaway.svg", serve: sendCutawayPicture},
		{route: "GET /hive/{hive}/cutaway.png", serve: sendCutawayPicture},
		{route: "GET /hive/{hive}/winter", tab: "Winter", template: "winter", serve: showWinter},
		{route: "GET /hive/{hive}/summer", tab: "Summer", template: "summer", serve: showSummer},
		{route: "GET /hive/{hive}/water", tab: "Water", template: "water", serve: showWater},
		{route: "GET /hive/{hive}/vents", tab: "Vents", template: "vents", serve: showVents},
		{route: "GET /hive/{hive}/changes", tab: "Changes", template: "changes", serve: showChanges},
		{route: "POST /hive/{hive}/changes/keep", serve: keepPlan},
		{route: "POST /hive/{hive}/changes/build", serve: buildPlan},
		{route: "GET /plan/{plan}", serve: openPlan},
		{route: "POST /plan/{plan}/drop", serve: dropPlan},
		{route: "GET /rank", template: "yardrank", serve: showYardRank},
		{route: "POST /rank", serve: startYardRank},
		{route: "GET /hive/{hive}/rank", tab: "Rank", template: "rank", serve: showRank},
		{route: "GET /hive/{hive}/range", tab: "Range", template: "range", serve: showRange},
		{route: "GET /hive/{hive}/range.json", serve: sendRange},
		{route: "POST /hive/{hive}/range", serve: startRange},
		{route: "POST /hive/{hive}/rank", serve: startRank},
		{route: "GET /hive/{hive}/edit", tab: "Build", template: "edit", serve: showEdit},
		{route: "POST /hive/{hive}/edit", template: "edit", serve: changeEdit},
		{route: "POST /hive/{hive}/edit/try", serve: tryEdit},
		{route: "POST /hive/{hive}/edit/file", template: "edit", serve: replaceEdit},
		{route: "GET /hive/{hive}/edit/file", serve: sendDraft},
		{route: "GET /hive/{hive}/edit/full", serve: fullEdit},
		{route: "GET /hive/{hive}/file", serve: sendFile},
		{route: "GET /hive/{hive}/hours.csv", serve: sendHours},
		{route: "GET /weather", template: "weather", serve: showWeather},
		{route: "POST /weather/choose", template: "weather", serve: chooseWeather},
		{route: "POST " + weatherUpload, template: "weather", serve: uploadWeather},
		{route: "GET /weather/year.svg", serve: sendWeatherPicture},
		{route: "GET /trust", template: "trust", serve: showTrust},
	}
	all = append(all, benchPages()...)
	all = append(all, notebookPages()...)
	all = append(all, measurePages()...)
	return append(all, apiPages()...)
}

// frame is what the layout takes.
type frame struct {
	view
	Theme  string
	US     bool
	Locked bool   // there is a way to log out
	Here   string // path and query of the page
	Menu   []link
	Tabs   []link
	Say    say
}

// page answers with a page of the table.
func (s *Server) page(p page) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		v := &visit{Server: s, w: w, request: r}
		v.look()
		shown, err := p.serve(v)
		name := p.template
		if err != nil {
			if errors.Is(err, context.Canceled) && r.Context().Err() != nil {
				return // nobody listens
			}
			var busy *underway
			if errors.As(err, &busy) && !strings.HasPrefix(r.URL.Path, "/api/") {
				s.show(v, p, "working", workingView(busy))
				return
			}
			status, title, text := statusOf(err)
			if status >= 500 {
				s.config.Log.Error("a page failed", "path", r.URL.Path, "error", err)
			}
			if strings.HasPrefix(r.URL.Path, "/api/") {
				writeProblem(w, status, title, text)
				return
			}
			name, shown = "problem", view{Title: title, status: status, Hive: shown.Hive, Body: problem{title, text}}
		}
		switch {
		case shown.written:
		case shown.to != "":
			http.Redirect(w, r, shown.to, http.StatusSeeOther)
		default:
			s.show(v, p, name, shown)
		}
	})
}

type problem struct{ Title, Text string }

// show writes a page whole or, when its template fails, an error and nothing of it.
func (s *Server) show(v *visit, p page, name string, shown view) {
	var b bytes.Buffer
	f := frame{view: shown, Theme: v.theme, US: v.system == quantity.US, Locked: s.doors.locked && !shown.Bare, Here: v.request.URL.RequestURI(), Menu: menu(shown.Place), Say: say{v.system}}
	if shown.Hive != nil {
		f.Tabs = tabs(shown.Hive.ID, p.tab)
	}
	if err := s.sheets.templates[name].ExecuteTemplate(&b, "layout", f); err != nil {
		s.config.Log.Error("a template failed", "template", name, "error", err)
		http.Error(v.w, "A fault of the program. The terminal in which hackle runs says more.", http.StatusInternalServerError)
		return
	}
	v.w.Header().Set("Content-Type", "text/html; charset=utf-8")
	if shown.status != 0 {
		v.w.WriteHeader(shown.status)
	}
	v.w.Write(b.Bytes()) // the reader is gone when this fails
}

// Cookies of the look. They hold no more than a word and are not secret.
const (
	themeCookie = "hackle_theme"
	unitsCookie = "hackle_units"
	lookSeconds = 400 * 24 * 3600 // the longest that browsers keep a cookie
)

// look reads theme and units of the reader.
func (v *visit) look() {
	if c, err := v.request.Cookie(themeCookie); err == nil && (c.Value == "light" || c.Value == "dark") {
		v.theme = c.Value
	}
	if c, err := v.request.Cookie(unitsCookie); err == nil && c.Value == "us" {
		v.system = quantity.US
	}
}

// setLook keeps theme or units and leads back.
func setLook(v *visit) (view, error) {
	set := func(name, value string) {
		http.SetCookie(v.w, &http.Cookie{Name: name, Value: value, Path: "/", MaxAge: lookSeconds, SameSite: http.SameSiteStrictMode, Secure: v.config.Secure, HttpOnly: true})
	}
	switch theme := v.request.PostFormValue("theme"); theme {
	case "":
	case "light", "dark", "auto":
		set(themeCookie, theme)
	default:
		return view{}, refuse("theme %q, accepted: light, dark or auto", theme)
	}
	switch units := v.request.PostFormValue("units"); units {
	case "":
	case "metric", "us":
		set(unitsCookie, units)
	default:
		return view{}, refuse("units %q, accepted: metric or us", units)
	}
	return view{to: local(v.request.PostFormValue("to"))}, nil
}

// local is an address within these pages: what leads elsewhere leads home.
func local(to string) string {
	u, err := url.Parse(to)
	if err != nil || u.Scheme != "" || u.Host != "" || u.User != nil || !strings.HasPrefix(to, "/") || strings.HasPrefix(to, "//") || strings.ContainsAny(to, "\\\r\n\t") {
		return "/"
	}
	return to
}

func urlEscape(text string) string { return url.QueryEscape(text) }
