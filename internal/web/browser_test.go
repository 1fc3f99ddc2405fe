package web

import (
	"context"
	_ "embed"
	"encoding/json"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"hackle/internal/store"
)

//go:embed testdata/axe/axe.min.js
var axeSource string

// Bounds of a whole test in the browser, and of waiting for one thing, so that a
// fault does not hang it. They judge nothing.
const (
	browserWait = 8 * time.Minute
	thingWait   = 90 * time.Second
)

// chromium finds the browser, or skips the test where none is asked for.
func chromium(t *testing.T) string {
	t.Helper()
	if os.Getenv("HACKLE_BROWSER") != "required" {
		t.Skip("browser tests run with HACKLE_BROWSER=required, which wants Chromium")
	}
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	t.Fatal("HACKLE_BROWSER=required, and there is no Chromium: apt-get install chromium")
	return ""
}

// window is a browser window on a server.
type window struct {
	t    *testing.T
	ctx  context.Context
	site *site
	mu   sync.Mutex
	bad  []string // requests that left the machine, errors of scripts, breaches of the policy
}

// see opens a window of a width. What goes wrong in it fails the test at its end.
func see(t *testing.T, s *site, width int64) *window {
	t.Helper()
	options := append(slices.Clone(chromedp.DefaultExecAllocatorOptions[:]), chromedp.ExecPath(chromium(t)), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-sync", true), chromedp.NoFirstRun, chromedp.UserDataDir(t.TempDir()))
	ctx, cancel := chromedp.NewExecAllocator(context.Background(), options...)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(cancel)
	w := &window{t: t, site: s}
	err := chromedp.Listen(ctx, func(event any) {
		w.mu.Lock()
		defer w.mu.Unlock()
		switch e := event.(type) {
		case *network.EventRequestWillBeSent:
			u, err := url.Parse(e.Request.URL)
			if err != nil || u.Scheme != "data" && u.Scheme != "blob" && u.Host != strings.TrimPrefix(w.site.URL, "http://") {
				w.bad = append(w.bad, "asks for "+e.Request.URL)
			}
		case *runtime.EventExceptionThrown:
			w.bad = append(w.bad, fmt.Sprintf("a script fails: %+v", e.ExceptionDetails))
		case *log.EventEntryAdded:
			// Refusals of forms are answered with 4xx on purpose.
			if e.Entry.Level == log.EntryLevelError && !strings.Contains(e.Entry.Text, "the server responded with a status of 4") {
				w.bad = append(w.bad, "the browser reports: "+e.Entry.Text)
			}
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	// Only now: a timeout on what starts the browser would end the browser.
	w.ctx, cancel = context.WithTimeout(ctx, browserWait)
	t.Cleanup(cancel)
	call(w, network.Enable, network.EnableParams{})
	call(w, log.Enable, cdp.Empty{})
	w.do(chromedp.EmulateViewport(width, 900))
	t.Cleanup(func() {
		w.mu.Lock()
		defer w.mu.Unlock()
		for _, b := range w.bad {
			t.Errorf("at %d px: %s", width, b)
		}
	})
	return w
}

// call sends a command of the protocol.
func call[P, R any](w *window, command cdp.Command[P, R], params P) {
	w.t.Helper()
	if _, err := chromedp.Call(w.ctx, command, params); err != nil {
		w.t.Fatal(err)
	}
}

func (w *window) do(actions ...chromedp.Action[chromedp.Void]) {
	w.t.Helper()
	for _, a := range actions {
		if err := take(w.ctx, a); err != nil {
			w.fail(err)
		}
	}
}

// take does one thing in the browser. A page that draws a part of itself anew
// between the search for a place and the tap on it leaves a place that is gone; then
// nothing was done, and it is looked for again.
func take(ctx context.Context, a chromedp.Action[chromedp.Void]) error {
	for try := 1; ; try++ {
		err := chromedp.Do(ctx, a)
		if err == nil || try == 5 || !strings.Contains(err.Error(), "Could not find node with given id") {
			return err
		}
		time.Sleep(50 * time.Millisecond)
	}
}

// eval computes an expression in the page.
func eval[T any](w *window, expression string, options ...chromedp.EvaluateOption) T {
	w.t.Helper()
	v, err := chromedp.Run(w.ctx, chromedp.Evaluate[T](expression, options...))
	if err != nil {
		w.fail(err)
	}
	return v
}

// fail ends the test with what the page says.
func (w *window) fail(err error) {
	w.t.Helper()
	text, _ := chromedp.Run(w.ctx, chromedp.Evaluate[string]("location.pathname + '\\n' + document.querySelector('main')?.innerText"))
	w.t.Fatalf("%v\n%.1500s", err, text)
}

func (w *window) open(path string) { w.t.Helper(); w.do(chromedp.Navigate(w.site.URL + path)) }

// eventually waits until an expression is true.
func (w *window) eventually(what, expression string) {
	w.t.Helper()
	ctx, cancel := context.WithTimeout(w.ctx, thingWait)
	defer cancel()
	for {
		// While a page is being left there is nothing to ask.
		if ok, err := chromedp.Run(w.ctx, chromedp.Evaluate[bool]("!!("+expression+")")); err == nil && ok {
			return
		}
		select {
		case <-ctx.Done():
			w.fail(fmt.Errorf("%s: %w", what, ctx.Err()))
		case <-time.After(50 * time.Millisecond):
		}
	}
}

// says waits for text in the page.
func (w *window) says(text string) {
	w.t.Helper()
	w.eventually("waiting for "+text, "document.querySelector('main')?.innerText.includes("+quoted(text)+")")
}

func quoted(text string) string {
	b, _ := json.Marshal(text) // text cannot fail
	return string(b)
}

// fits fails when the page is wider than its window.
func (w *window) fits() {
	w.t.Helper()
	report := eval[struct {
		Here        string
		Wide, Space int
		Culprits    []string
	}](w, `({Here: location.pathname, Wide: document.documentElement.scrollWidth, Space: innerWidth,
		Culprits: [...document.querySelectorAll("body *")].filter(e => e.getBoundingClientRect().right > innerWidth + 1 && !e.closest(".scroll, .tabs, svg")).slice(0, 5).map(e => e.tagName + "." + e.className)})`)
	if report.Wide > report.Space {
		w.t.Errorf("%s is %d px wide in a window of %d: %v", report.Here, report.Wide, report.Space, report.Culprits)
	}
}

// reopen starts a server anew on the same yard and address, as after a restart.
func reopen(t *testing.T, s *site, path string) {
	t.Helper()
	address := s.Listener.Addr().String()
	s.pages.Close()
	s.Close()
	if err := s.store.Close(); err != nil {
		t.Fatal(err)
	}
	listener, err := net.Listen("tcp", address)
	if err != nil {
		t.Fatal(err)
	}
	serveOn(t, s, listener, path)
}

func serveOn(t *testing.T, s *site, listener net.Listener, path string) {
	t.Helper()
	kept, err := store.Open(t.Context(), path, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	pages, err := New(Config{Store: kept})
	if err != nil {
		t.Fatal(err)
	}
	server := httptest.NewUnstartedServer(pages)
	if listener != nil {
		server.Listener.Close()
		server.Listener = listener
	}
	server.Start()
	s.Server, s.pages, s.store = server, pages, kept
}

// The main job as a person does it: first start, a type and a climate, the answer
// for winter, insulation in the lid, what it changes, keep it, restart, find it.
func TestBrowserMainJob(t *testing.T) {
	for _, width := range []int64{360, 1280} {
		t.Run(fmt.Sprint(width), func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "yard.sqlite")
			s := &site{t: t, client: http.DefaultClient}
			serveOn(t, s, nil, path)
			t.Cleanup(func() { s.pages.Close(); s.Close(); s.store.Close() })
			w := see(t, s, width)
			w.open("/")
			w.says("Which hive shall it be")
			w.fits()
			w.do(chromedp.SendKeys("#name", "By the hedge"), chromedp.SetValue("#type", "stacked-10"), chromedp.SetValue("#site", "burlington-vt"), chromedp.Click("button.main"))
			w.says("of its 30 kg")
			w.says("How we know")
			w.fits()
			w.do(chromedp.Click(`//nav[contains(@class,"tabs")]//a[.="Changes"]`))
			w.says("What would you change?")
			w.fits()
			w.do(chromedp.Click(`//summary[starts-with(.,"Insulated lid")]`), chromedp.Click(`//a[.="mineral wool 76 mm"]`))
			w.says("With this change")
			w.says("What it takes")
			w.fits()
			w.do(chromedp.SendKeys("#plan-name", "Warm lid"), chromedp.Click(`//button[.="Keep as a plan"]`))
			w.says("Kept as the plan Warm lid")
			reopen(t, s, path)
			w.open("/")
			w.says("Warm lid")
			w.says("of its 30 kg")
			w.fits()
			w.do(chromedp.Click(`//a[.="Warm lid"]`))
			w.says("With this change")
			w.says("Kept as the plan Warm lid")
		})
	}
}

// tabTo presses Tab until the element that has the focus answers to a selector.
func (w *window) tabTo(selector string) {
	w.t.Helper()
	for range 150 {
		w.do(chromedp.KeyEvent(kb.Tab))
		if !eval[bool](w, "document.activeElement.matches("+quoted(selector)+")") {
			continue
		}
		// Who steers by keys must see where they are.
		seen := eval[bool](w, `(() => { const s = getComputedStyle(document.activeElement); return s.outlineStyle !== "none" && parseFloat(s.outlineWidth) >= 2 || document.activeElement.matches("a") && !!document.activeElement.closest("svg"); })()`)
		if !seen {
			w.t.Errorf("the focus on %s cannot be seen", selector)
		}
		return
	}
	w.t.Fatalf("the Tab key does not reach %s", selector)
}

// The same job with the keyboard alone.
func TestBrowserKeyboard(t *testing.T) {
	s := open(t, nil)
	w := see(t, s, 1280)
	w.open("/")
	w.says("Which hive shall it be")
	w.tabTo(".skip")
	w.do(chromedp.KeyEvent(kb.Enter))
	w.tabTo("#name")
	w.do(chromedp.KeyEvent("By the wall"))
	w.tabTo("#site")
	w.do(chromedp.KeyEvent("Portland")) // countries and places are reached by their letters
	w.tabTo("button.main")
	w.do(chromedp.KeyEvent(kb.Enter))
	w.eventually("waiting for the page of winter", "location.pathname.endsWith('/winter') || document.querySelector('#site:invalid')")
	if eval[bool](w, "!location.pathname.endsWith('/winter')") {
		w.t.Fatal("a place cannot be chosen with keys")
	}
	w.says("of its 30 kg")
	w.tabTo("figure[data-chart]")
	w.do(chromedp.KeyEvent(kb.ArrowRight))
	w.eventually("waiting for the value of a day", "document.activeElement.querySelector('.readout').textContent.includes('kg')")
	w.open("/")
	w.tabTo(".hives h3 a")
	w.do(chromedp.KeyEvent(kb.Enter))
	w.says("As it stands")
	w.tabTo(`.tabs a[href$="/changes"]`)
	w.do(chromedp.KeyEvent(kb.Enter))
	w.says("What would you change?")
	w.tabTo(".catalogue summary")
	w.do(chromedp.KeyEvent(kb.Enter))
	w.tabTo(".choices a")
	w.do(chromedp.KeyEvent(kb.Enter))
	w.says("With this change")
	w.tabTo("#plan-name")
	w.do(chromedp.KeyEvent("By keys"), chromedp.KeyEvent(kb.Enter))
	w.says("Kept as the plan By keys")
}

// Without scripts everything is there too; waiting pages load themselves again.
func TestBrowserWithoutScripts(t *testing.T) {
	s := open(t, nil)
	w := see(t, s, 360)
	call(w, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
	w.open("/")
	w.do(chromedp.SendKeys("#name", "Plain"), chromedp.SendKeys("#site", "Dublin"), chromedp.Click("button.main"))
	w.do(chromedp.WaitVisible(".titleblock"))
	text, err := chromedp.Run(w.ctx, chromedp.Text("h1"))
	if err != nil {
		w.fail(err)
	}
	if !strings.Contains(text, "of its 30 kg") {
		t.Errorf("without scripts the answer is %q", text)
	}
}

// No page has a serious fault for those who see, hear or move otherwise, by day and
// by night; no page is wider than a phone.
func TestBrowserAccess(t *testing.T) {
	s := open(t, nil)
	hive := s.firstHive()
	lid := hive + "/changes?change=" + url.QueryEscape("lid=mineral wool 76 mm")
	asked, _ := s.keepRanking(hive)
	paths := []string{"/", "/new", "/weather", "/trust", "/nothing", lid, hive + "/rank?" + asked.query().Encode()}
	for _, l := range tabs(strings.TrimPrefix(hive, "/hive/"), "") {
		paths = append(paths, l.Path)
	}
	w := see(t, s, 360)
	for _, theme := range []string{"light", "dark"} {
		for _, width := range []int64{360, 1280} {
			w.do(chromedp.EmulateViewport(width, 900))
			call(w, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: theme}}})
			for _, path := range paths {
				w.open(path)
				w.eventually("waiting for "+path, "document.readyState === 'complete' && !document.querySelector('[data-progress]')")
				w.fits()
				w.audit(fmt.Sprintf("%s, %s, %d px", path, theme, width))
			}
		}
	}
	// The audit finds what is bad: a picture and a button that say nothing.
	w.do(chromedp.Evaluate[chromedp.Void](`document.querySelector("main").insertAdjacentHTML("beforeend", "<button></button><img src='data:,'>")`))
	if bad := w.faults(); len(bad) < 2 {
		t.Errorf("the audit finds %d of two faults that were put into a page", len(bad))
	}
	hash, err := HashPassword(password)
	if err != nil {
		t.Fatal(err)
	}
	locked := open(t, func(c *Config) { c.Password = hash })
	w.site = locked
	w.open("/")
	w.audit("/login")
}

// accessFault is a fault that axe-core finds serious or critical.
type accessFault struct {
	ID, Impact, Help string
	Nodes            []string
}

// faults are what axe-core finds on the page.
func (w *window) faults() []accessFault {
	w.t.Helper()
	eval[bool](w, "typeof axe === 'undefined' && (() => { "+axeSource+"; return true })()")
	return eval[[]accessFault](w, `axe.run(document, {resultTypes: ["violations"]}).then(r => r.violations.filter(v => v.impact === "serious" || v.impact === "critical")
		.map(v => ({ID: v.id, Impact: v.impact, Help: v.help, Nodes: v.nodes.slice(0, 4).map(n => n.html.slice(0, 160) + " :: " + n.failureSummary.slice(0, 200))})))`, chromedp.EvalAwaitPromise)
}

// audit reports what axe-core finds serious on the page.
func (w *window) audit(where string) {
	w.t.Helper()
	for _, f := range w.faults() {
		w.t.Errorf("%s: %s (%s): %s\n  %s", where, f.ID, f.Impact, f.Help, strings.Join(f.Nodes, "\n  "))
	}
}

// The look that a reader chooses stays.
func TestBrowserLook(t *testing.T) {
	s := open(t, nil)
	w := see(t, s, 360)
	w.open("/trust")
	const ground = "getComputedStyle(document.body).backgroundColor"
	day := eval[string](w, ground)
	w.do(chromedp.Click(`button[value="dark"]`))
	w.eventually("waiting for the night", "document.documentElement.dataset.theme === 'dark'")
	w.open("/weather")
	night := eval[string](w, ground)
	if day == night {
		t.Errorf("the night looks like the day: %s", night)
	}
	w.do(chromedp.Click(`button[value="us"]`))
	w.eventually("waiting for other units", "document.documentElement.dataset.units === 'us'")
}
