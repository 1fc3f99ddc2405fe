package web

import (
	"context"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

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
		if err := chromedp.Do(ctx, a); err != nil {
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

// TestEntriesOutliveABrokenConnection goes offline at the hives, writes down, loads
// the page again, comes back, and finds every entry exactly once.
func TestEntriesOutliveABrokenConnection(t *testing.T) {
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

// TestGlovesHitTheirTarget measures every target of the page for the hives on a
// phone: at least 72 CSS pixels high (common practice for gloved hands, no source),
// 8 pixels from the next, none beyond the edge of the screen.
func TestGlovesHitTheirTarget(t *testing.T) {
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
