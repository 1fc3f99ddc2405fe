package web

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// asks computes an expression in the page.
func asks[T any](t *testing.T, ctx context.Context, expression string) T {
	t.Helper()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	if err != nil {
		t.Fatalf("in the browser: %s: %v", expression, err)
	}
	return v
}

// comes waits for an expression of the page to come true; while one page gives way
// to another there is nobody to ask.
func comes(t *testing.T, ctx context.Context, expression string) {
	t.Helper()
	for {
		if is, err := chromedp.Run(ctx, chromedp.Evaluate[bool]("!!("+expression+")")); err == nil && is {
			return
		}
		select {
		case <-ctx.Done():
			t.Fatalf("in the browser: %s does not come true: %v", expression, ctx.Err())
		case <-time.After(40 * time.Millisecond):
		}
	}
}

// presses sends keys to the part that has the focus.
func presses(t *testing.T, ctx context.Context, part, keys string) {
	t.Helper()
	if !asks[bool](t, ctx, fmt.Sprintf("(() => { const e = document.querySelector(`%s`); e.focus(); return document.activeElement === e })()", part)) {
		t.Fatalf("%s does not take the focus", part)
	}
	do(t, ctx, chromedp.KeyEvent(keys))
}

// sameAsServer holds the drawing that the script moved against the one that the
// server draws of the same hour, in every attribute.
const sameAsServer = `(async () => {
	const box = document.querySelector("[data-cutaway]"), here = new URL(location.href);
	here.searchParams.set("hour", box.dataset.drawn);
	const page = new DOMParser().parseFromString(await (await fetch(here)).text(), "text/html");
	const [a, b] = [page, document].map((d) => { const s = d.querySelector("[data-figure] svg").cloneNode(true); s.querySelector("desc").remove(); return s.outerHTML; });
	if (a === b) return "same";
	let i = 0;
	while (a[i] === b[i]) i++;
	return "server " + a.slice(Math.max(0, i - 120), i + 60) + " script " + b.slice(Math.max(0, i - 120), i + 60);
})()`

const tooWide = `document.documentElement.scrollWidth > innerWidth ? [...document.querySelectorAll("main *")].filter((e) => e.getBoundingClientRect().right > innerWidth + 1 && !e.closest("svg, .scroll")).slice(0, 4).map((e) => e.tagName + "." + e.className).join(" ") || "something" : ""`

// accessible audits the page that is open.
func accessible(t *testing.T, ctx context.Context) {
	t.Helper()
	do(t, ctx, chromedp.Evaluate[chromedp.Void](axeSource+";0"))
	for _, found := range asks[[]string](t, ctx, `axe.run(document, {resultTypes: ["violations"]}).then((r) => r.violations.filter((v) => ["serious", "critical"].includes(v.impact)).map((v) => v.id + ": " + v.help + ": " + v.nodes.slice(0, 3).map((n) => n.html.slice(0, 200)).join(" | ")))`) {
		t.Errorf("%s: %s", asks[string](t, ctx, "location.pathname"), found)
	}
}

// The cutaway in a browser: by keyboard alone through the year, at both widths and
// in both themes, and what the script draws is what the server draws.
func TestCutawayInBrowser(t *testing.T) {
	ctx := phone(t)
	s := open(t, nil)
	at := s.firstHive()
	s.settled(at + "/cutaway")
	drawn := func(hour int) step {
		return until(fmt.Sprintf("document.querySelector(`[data-cutaway]`)?.dataset.drawn === `%d` && document.querySelector(`[data-cutaway]`).dataset.told === `%[1]d`", hour))
	}
	for i, look := range []struct {
		width, height int64
		theme         string
		section       string
	}{{360, 740, "dark", "side"}, {1280, 900, "light", "front"}} {
		do(t, ctx, chromedp.EmulateViewport(look.width, look.height))
		do(t, ctx, chromedp.Navigate(s.URL+at+"/cutaway?hour=2400&section="+look.section), until("document.querySelector(`[data-spare]`).hidden"))
		if got := asks[string](t, ctx, fmt.Sprintf("document.querySelector(`button[name=theme][value=%s]`).click(), ``", look.theme)); got != "" {
			t.Fatal(got)
		}
		comes(t, ctx, "document.documentElement.dataset.theme === `"+look.theme+"`")
		comes(t, ctx, "document.querySelector(`[data-spare]`)?.hidden")
		ground := asks[string](t, ctx, "getComputedStyle(document.querySelector(`svg.cutaway .edge, svg.cutaway .wood`)).stroke")
		if dark := ground == "rgb(230, 225, 214)"; dark != (look.theme == "dark") {
			t.Errorf("%s: ink is %s", look.theme, ground)
		}
		if got := asks[string](t, ctx, tooWide); got != "" {
			t.Errorf("%d px: wider than the window: %s", look.width, got)
		}
		accessible(t, ctx)
		hour := asks[int](t, ctx, "Number(document.querySelector(`#hour`).value)")
		if hour != 2400 {
			t.Errorf("the page of hour 2400 shows hour %d", hour)
		}
		for keys, by := range map[string]int{kb.ArrowRight: 1, kb.PageDown: -24} {
			presses(t, ctx, "#hour", keys)
			hour += by
			do(t, ctx, drawn(hour))
			if got := asks[string](t, ctx, sameAsServer); got != "same" {
				t.Fatalf("hour %d: %s", hour, got)
			}
		}
		if got := asks[string](t, ctx, "new URL(location.href).searchParams.get(`hour`)"); got != fmt.Sprint(hour) {
			t.Errorf("the address speaks of hour %s", got)
		}
		// The worst moments, by the key that follows a link; each drawn as the server
		// draws it.
		moments := asks[[]int](t, ctx, "[...document.querySelectorAll(`[data-moment]`)].map((a) => Number(a.dataset.moment))")
		if len(moments) < 5 {
			t.Errorf("only %d worst moments", len(moments))
		}
		for k, m := range moments {
			if k%3 != i {
				continue // each is looked at once, in one of the two looks
			}
			presses(t, ctx, fmt.Sprintf(".worstlist li:nth-child(%d) a", k+1), kb.Enter)
			do(t, ctx, drawn(m))
			if got := asks[string](t, ctx, sameAsServer); got != "same" {
				t.Errorf("hour %d: %s", m, got)
			}
		}
		do(t, ctx, shot(fmt.Sprintf("cutaway-%d-%s", look.width, look.theme)))
		// It plays and stops.
		hour = asks[int](t, ctx, "Number(document.querySelector(`#hour`).value)")
		presses(t, ctx, "[data-play]", " ")
		do(t, ctx, until(fmt.Sprintf("Number(document.querySelector(`#hour`).value) > %d", hour)))
		presses(t, ctx, "[data-play]", " ")
		do(t, ctx, until("document.querySelector(`[data-play]`).textContent === `Play` && document.querySelector(`[data-cutaway]`).dataset.told === document.querySelector(`#hour`).value"))
		if got := asks[string](t, ctx, sameAsServer); got != "same" {
			t.Errorf("after playing: %s", got)
		}
	}
	// Any place tells its values.
	spot := asks[[2]float64](t, ctx, "(() => { const e = document.querySelector(`[data-figure] svg`); e.scrollIntoView({block: `center`}); const b = e.getBoundingClientRect(); return [b.left + b.width / 2, b.top + b.height / 2] })()")
	do(t, ctx, chromedp.MouseEvent("mouseMoved", spot[0], spot[1]), until("/above the floor|wood|board/i.test(document.querySelector(`[data-place]`).textContent)"))
}

// The form in a browser: dragging a thickness moves drawing and quick answer, then
// the whole year; faults stand at their field; undo brings back.
func TestEditInBrowser(t *testing.T) {
	ctx := phone(t)
	s := open(t, nil)
	at := s.firstHive()
	s.settled(at + "/cutaway")
	const slider = "[data-slide='walls0.0.thickness']"
	value := func(name string) string {
		return "document.querySelector(`[data-form]`).elements[`" + name + "`].value"
	}
	for _, width := range []int64{360, 1280} {
		do(t, ctx, chromedp.EmulateViewport(width, 800), chromedp.Navigate(s.URL+at+"/edit"), until("document.querySelector(`"+slider+"`)?.hidden === false"))
		if got := asks[string](t, ctx, tooWide); got != "" {
			t.Errorf("%d px: wider than the window: %s", width, got)
		}
		accessible(t, ctx)
		before := asks[string](t, ctx, "document.querySelector(`[data-drawing]`).innerHTML")
		was := asks[string](t, ctx, value("walls0.0.thickness"))
		presses(t, ctx, slider, strings.Repeat(kb.ArrowRight, 4))
		do(t, ctx, until("Number(document.querySelector(`[data-form]`).elements.steps.value) > 0"), says("[data-quick]", "as it stands"))
		now := asks[string](t, ctx, value("walls0.0.thickness"))
		if now == was || asks[string](t, ctx, "document.querySelector(`[data-drawing]`).innerHTML") == before {
			t.Errorf("%d px: %s became %s, and the drawing stays", width, was, now)
		}
		do(t, ctx, says("[data-full]", "The whole year: it"), says("[data-full]", "as it stands"), shot(fmt.Sprintf("build-%d", width)))
		// A fault stands at its field and changes nothing.
		do(t, ctx, chromedp.Evaluate[chromedp.Void]("(() => { const e = "+strings.TrimSuffix(value("lid.0.thickness"), ".value")+"; e.value = `thick`; e.dispatchEvent(new Event(`change`, {bubbles: true})) })()"),
			until("document.querySelector(`[data-fault='lid.0.thickness']`).textContent.includes(`thick`) && !document.querySelector(`[data-fault='lid.0.thickness']`).hidden"))
		if file := s.draftFile(at); strings.Contains(file, "thick") && strings.Contains(file, "thick\n") {
			t.Errorf("a fault is kept:\n%s", file)
		}
		// A reload loses no step that was kept.
		do(t, ctx, chromedp.Navigate(s.URL+at+"/edit"), until(value("walls0.0.thickness")+" === `"+now+"`"))
		for range 10 { // one step back for each that was kept
			if asks[bool](t, ctx, "document.querySelector(`button[value=undo]`).disabled") {
				break
			}
			presses(t, ctx, "button[value=undo]", kb.Enter)
			comes(t, ctx, "document.querySelector(`button[value=redo]`)?.disabled === false && document.querySelector(`[data-edit]`).dataset.begun")
			if asks[string](t, ctx, value("walls0.0.thickness")) == was {
				break
			}
		}
		comes(t, ctx, value("walls0.0.thickness")+" === `"+was+"`")
		s.post(at+"/edit", map[string][]string{"do": {"discard"}})
	}
}
