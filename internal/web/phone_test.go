package web

import (
	"context"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"hackle/internal/store"
	"hackle/yard"
)

// wire stands between a phone and the server and can fail as wires do.
type wire struct {
	next http.Handler
	dead atomic.Bool  // every connection breaks before it is answered
	mute atomic.Int32 // so many POSTs are carried out, and break before the answer
	sent atomic.Int32 // POSTs of records that reached the server
}

func (w *wire) ServeHTTP(out http.ResponseWriter, r *http.Request) {
	if w.dead.Load() {
		panic(http.ErrAbortHandler)
	}
	if r.Method == "POST" && strings.HasSuffix(r.URL.Path, "/records") {
		w.sent.Add(1)
		if w.mute.Add(-1) >= 0 {
			w.next.ServeHTTP(httptest.NewRecorder(), r)
			panic(http.ErrAbortHandler)
		}
	}
	w.next.ServeHTTP(out, r)
}

// phone is a browser of a phone's size.
func phone(t *testing.T) context.Context {
	t.Helper()
	path := chromium(t)
	options := slices.Concat(chromedp.DefaultExecAllocatorOptions[:], []chromedp.ExecAllocatorOption{
		chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.WindowSize(360, 740), chromedp.UserDataDir(t.TempDir()),
		chromedp.Flag("host-resolver-rules", "MAP * ~NOTFOUND, EXCLUDE 127.0.0.1"), // nothing leaves the machine
	})
	ctx, cancel := chromedp.NewExecAllocator(t.Context(), options...)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(cancel)
	do(t, ctx, chromedp.EmulateViewport(360, 740, chromedp.EmulateMobile, chromedp.EmulateTouch)) // begins the browser
	ctx, cancel = context.WithTimeout(ctx, 2*time.Minute)                                         // one that hangs ends the test
	t.Cleanup(cancel)
	return ctx
}

// wired starts a server behind a wire.
func wired(t *testing.T) (*site, *wire) {
	t.Helper()
	s := open(t, nil)
	w := &wire{next: s.pages}
	server := httptest.NewUnstartedServer(w)
	server.Config.ConnContext = func(ctx context.Context, _ net.Conn) context.Context { return ctx }
	server.Start()
	t.Cleanup(server.Close)
	s.URL = server.URL
	return s, w
}

// step is one thing done in the browser.
type step = chromedp.Action[chromedp.Void]

// do takes steps in the browser.
func do(t *testing.T, ctx context.Context, steps ...step) {
	t.Helper()
	for i, a := range steps {
		if err := take(ctx, a); err != nil {
			t.Fatalf("in the browser, step %d: %v", i+1, err)
		}
	}
}

// until waits for an expression of the page to come true.
func until(expression string) step {
	return chromedp.Poll[chromedp.Void](expression, chromedp.WithPollingTimeout(20*time.Second))
}

// says waits until a part of the page says something.
func says(part, text string) step {
	return until("document.querySelector(`" + part + "`)?.textContent.includes(`" + text + "`)")
}

func click(selector string) step { return chromedp.Click(chromedp.CSS(selector)) }

// tapOn taps an answer to a question.
func tapOn(question, answer string) step {
	return chromedp.Click(`//fieldset[legend="` + question + `"]//button[.="` + answer + `"]`)
}

// takeBack taps the button beside an entry that was written down.
func takeBack(entry string) step {
	return chromedp.Click(`//div[contains(@class, "said")][.//p[contains(., "` + entry + `")]]//button`)
}

// shot writes a picture of the whole page into the folder of HACKLE_SHOTS, for
// people to look at.
func shot(name string) step {
	return chromedp.Func(func(ctx context.Context, target *chromedp.Target) error {
		dir := os.Getenv("HACKLE_SHOTS")
		if dir == "" {
			return nil
		}
		picture, err := chromedp.FullScreenshot(100)(ctx, target)
		if err != nil {
			return err
		}
		return os.WriteFile(filepath.Join(dir, name+".png"), picture, 0o644)
	})
}

// TestBrowserEntriesOutliveABrokenConnection goes offline at the hives, writes down, loads
// the page again, comes back, and finds every entry exactly once.
func TestBrowserEntriesOutliveABrokenConnection(t *testing.T) {
	ctx := phone(t)
	s, w := wired(t)
	hives := s.apiary()
	here, there := string(hives[0].ID), string(hives[1].ID)
	do(t, ctx,
		chromedp.Navigate(s.URL+"/notebook/quick"),
		chromedp.WaitVisible(chromedp.CSS(`[data-quick][data-ready=true]`)),
		shot("quick-which"),
		click(`[data-hive="`+here+`"]`),   // the first tap
		tapOn("Lifted, it felt", "Light"), // the second
		says("[data-latest]", "in the yard file"),
		shot("quick"),
	)
	if all := s.records(hives[0].ID, yard.Weight); len(all) != 1 || all[0].Text("feel") != "light" {
		t.Fatalf("with a connection: kept %+v", all)
	}

	w.dead.Store(true)
	do(t, ctx,
		tapOn("Water over the bees", "Dripping"),
		says("[data-sending]", "One entry waits"),
		click(`[data-hive="`+there+`"]`),
		chromedp.Click(`//summary[.="Weight"]`),
		chromedp.SendKeys(chromedp.CSS(`#weight-f_reading_kg`), "31,5"),
		chromedp.SetValue(chromedp.CSS(`#weight-f_side`), "back"),
		click(`form[data-kind=weight] button.main`),
		says("[data-sending]", "2 entries wait"),
		tapOn("Fed", "Syrup"),
		says("[data-sending]", "3 entries wait"),
		shot("quick-offline"),
		takeBack("Fed"), // tapped by mistake
		says("[data-log]", "taken back"),
		// The page loads without the server, and the entries are still there.
		chromedp.Reload(),
		chromedp.WaitVisible(chromedp.CSS(`[data-sending]`)),
		says("[data-sending]", "entries wait"),
	)
	if n := len(s.records(hives[0].ID, yard.Drip)); n != 0 {
		t.Fatalf("%d records arrived over a dead wire", n)
	}

	w.mute.Store(1) // the first answer is lost: what it says has arrived is sent again
	w.dead.Store(false)
	do(t, ctx,
		chromedp.Evaluate[chromedp.Void](`dispatchEvent(new Event("online"))`),
		until(`document.querySelector("[data-sending]").hidden`),
		shot("quick-back"),
	)
	if n := w.sent.Load(); n < 3 {
		t.Errorf("records were sent %d times, wanted the lost sending and another", n)
	}
	drips, weights := s.records(hives[0].ID, yard.Drip), s.records(hives[1].ID, yard.Weight)
	if len(drips) != 1 || drips[0].Text("amount") != "running" {
		t.Errorf("water: %+v, wanted exactly one record", drips)
	}
	if len(weights) != 1 {
		t.Fatalf("weights: %+v, wanted exactly one record", weights)
	}
	if kg, _ := weights[0].Number("reading_kg"); kg != 31.5 {
		t.Errorf("31,5 kg became %v kg", kg)
	}
	if fed := s.records(hives[1].ID, yard.Feeding); len(fed) != 0 {
		t.Errorf("what was taken back is kept: %+v", fed)
	}

	// Taken back after it had arrived.
	do(t, ctx,
		click(`[data-hive="`+here+`"]`),
		takeBack("Lifted"),
		until(`![...document.querySelectorAll(".said")].some((e) => e.textContent.includes("Lifted"))`),
	)
	if n := len(s.records(hives[0].ID, yard.Weight)); n != 0 {
		t.Errorf("%d weights after the only one was taken back", n)
	}
	if all, err := s.store.FindRecords(t.Context(), store.RecordFilter{Hive: hives[0].ID, Kinds: []yard.Kind{yard.Weight}, Deleted: true}); err != nil || len(all) != 1 {
		t.Errorf("its mark: %+v, %v", all, err)
	}
}

// TestBrowserGlovesHitTheirTarget measures every target of the page for the hives on a
// phone: at least 72 CSS pixels high (common practice for gloved hands, no source),
// 8 pixels from the next, none beyond the edge of the screen.
func TestBrowserGlovesHitTheirTarget(t *testing.T) {
	ctx := phone(t)
	s, _ := wired(t)
	hives := s.apiary()
	do(t, ctx, chromedp.Navigate(s.URL+"/notebook/quick?hive="+string(hives[0].ID)), chromedp.WaitVisible(chromedp.CSS(`[data-taps]`)))
	wide, err := chromedp.Run(ctx, chromedp.Evaluate[int](`document.documentElement.scrollWidth`))
	if err != nil || wide > 360 {
		t.Errorf("the page is %d wide on a screen of 360 (%v)", wide, err)
	}
	targets, err := chromedp.Run(ctx, chromedp.Evaluate[int](`document.querySelectorAll(".taps .tap").length`))
	if err != nil || targets < 25 {
		t.Errorf("%d targets were found (%v), wanted at least 25", targets, err)
	}
	small, err := chromedp.Run(ctx, chromedp.Evaluate[[]string](`(() => {
			const all = [...document.querySelectorAll(".taps .tap")], bad = [];
			const boxes = all.map((e) => e.getBoundingClientRect());
			all.forEach((e, i) => {
				const b = boxes[i], name = e.textContent.trim();
				if (b.height < 72 || b.width < 72) bad.push(name + " is " + b.width + " by " + b.height);
				if (b.left < 0 || b.right > innerWidth) bad.push(name + " lies beyond the edge");
				boxes.forEach((o, j) => {
					if (j <= i) return;
					const across = Math.max(o.left - b.right, b.left - o.right), down = Math.max(o.top - b.bottom, b.top - o.bottom);
					if (Math.max(across, down) < 8) bad.push(name + " lies too near to " + all[j].textContent.trim());
				});
			});
			return bad;
		})()`))
	if err != nil {
		t.Fatal(err)
	}
	for _, b := range small {
		t.Error(b)
	}
}

// TestBrowserNotebookAccess looks over the pages of the notebook with something on
// them, by day and by night, on a phone and on a desk.
func TestBrowserNotebookAccess(t *testing.T) {
	s := open(t, nil)
	hives := s.apiary()
	notebook := "/hive/" + string(hives[0].ID) + "/notebook"
	form := url.Values{"id": {idIn(t, s.get(notebook+"/weight").body)}, "at": {"2026-01-31T14:30"}, "f_reading_kg": {"31.5"}, "f_side": {"back"}, "note": {"windy"}}
	s.post(notebook+"/weight", form)
	record := "/record/" + string(s.records(hives[0].ID, yard.Weight)[0].ID)
	s.post(record, url.Values{"revision": {"1"}, "at": {"2026-01-31T14:30"}, "f_reading_kg": {"32"}})
	w := see(t, s, 360)
	for _, theme := range []string{"light", "dark"} {
		for _, width := range []int64{360, 1280} {
			w.do(chromedp.EmulateViewport(width, 900))
			call(w, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: theme}}})
			for _, path := range []string{notebook, notebook + "?kind=mould", notebook + "/moved", notebook + "/inspection", record, "/notebook/table?table=inspection", "/notebook/quick", "/notebook/quick?hive=" + string(hives[0].ID)} {
				w.open(path)
				w.eventually("waiting for "+path, "document.readyState === 'complete'")
				w.do(chromedp.Evaluate[chromedp.Void](`document.querySelectorAll("details").forEach((d) => { d.open = true; })`))
				w.fits()
				w.audit(path + ", " + theme)
			}
			w.open("/notebook/quick?hive=" + string(hives[0].ID))
			w.do(tapOn("Queen", "Seen"))
			w.says("in the yard file")
			w.audit("quick after a tap, " + theme)
			w.open(notebook + "/weight")
			w.do(chromedp.Click(chromedp.CSS("button.main")))
			w.says("a reading, or how it felt")
			w.audit("a form with a fault, " + theme)
			w.fits()
		}
	}
}

// TestBrowserTwoTapsByKeys writes an entry down with the keyboard alone, and takes
// it back.
func TestBrowserTwoTapsByKeys(t *testing.T) {
	s := open(t, nil)
	hives := s.apiary()
	w := see(t, s, 1280)
	w.open("/notebook/quick")
	w.tabTo(`[data-hive="` + string(hives[0].ID) + `"]`)
	w.do(chromedp.KeyEvent(kb.Enter))
	w.tabTo(".taps button")
	w.do(chromedp.KeyEvent(kb.Enter))
	w.says("in the yard file")
	if n := len(s.records(hives[0].ID, yard.Weight)); n != 1 {
		t.Errorf("%d weights, wanted 1", n)
	}
	w.tabTo("[data-latest] button")
	w.do(chromedp.KeyEvent(kb.Enter))
	w.eventually("waiting until it is taken back", `!document.querySelector("[data-latest]").textContent`)
	w.eventually("waiting until the yard knows", `!document.querySelector("[data-log]").textContent`)
	if n := len(s.records(hives[0].ID, yard.Weight)); n != 0 {
		t.Errorf("%d weights after it was taken back", n)
	}
}

// TestBrowserEntriesWaitForTheLogin taps after the session has ended.
func TestBrowserEntriesWaitForTheLogin(t *testing.T) {
	hash, err := HashPassword(password)
	if err != nil {
		t.Fatal(err)
	}
	s := open(t, func(c *Config) { c.Password = hash })
	hives := s.apiary()
	w := see(t, s, 360)
	login := func() {
		t.Helper()
		w.do(chromedp.SendKeys(chromedp.CSS("[name=password]"), password), chromedp.Click(chromedp.CSS("main button")))
		w.says("Which hive, and what?")
	}
	w.open("/notebook/quick?hive=" + string(hives[0].ID))
	login()
	if err := s.store.EndSessions(t.Context()); err != nil {
		t.Fatal(err)
	}
	w.do(tapOn("Queen", "Seen"))
	w.says("Log in to send")
	w.audit("/notebook/quick, logged out")
	if n := len(s.records(hives[0].ID, yard.Inspection)); n != 0 {
		t.Errorf("%d records came in without a session", n)
	}
	w.do(chromedp.Click(chromedp.CSS("[data-sending] a")))
	w.eventually("waiting for the login", "location.pathname === '/login'")
	login()
	w.says("in the yard file")
	if n := len(s.records(hives[0].ID, yard.Inspection)); n != 1 {
		t.Errorf("%d records after the login, wanted 1", n)
	}
}
