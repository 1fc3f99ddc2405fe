package cli

import (
	"fmt"
	"io"
	"os"
	"strings"
	"sync"
	"time"
)

// patience is how long a run goes on in silence.
const patience = 2 * time.Second

// progress tells on a terminal how far several runs are, once they take long. It
// says nothing elsewhere. The zero value is silent.
type progress struct {
	mu    sync.Mutex
	out   io.Writer // nil: silent
	begun time.Time
	what  string
	done  []int
	total []int
	shown int // width of what stands on the line
	last  int
}

// newProgress follows a number of runs.
func (p *program) newProgress(what string, runs int) *progress {
	g := &progress{what: what, begun: time.Now(), done: make([]int, runs), total: make([]int, runs), last: -1}
	if f, ok := p.stderr.(*os.File); ok {
		if info, err := f.Stat(); err == nil && info.Mode()&os.ModeCharDevice != 0 {
			g.out = f
		}
	}
	return g
}

// tick takes how many of the hours of a run are done.
func (g *progress) tick(run, done, total int) {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.done[run], g.total[run] = done, total
	if g.out == nil || time.Since(g.begun) < patience {
		return
	}
	sum := 0.0
	for i := range g.done {
		if g.total[i] > 0 {
			sum += float64(g.done[i]) / float64(g.total[i])
		}
	}
	percent := int(100 * sum / float64(len(g.done)))
	if percent == g.last {
		return
	}
	g.last = percent
	g.show(fmt.Sprintf("%s: %d %%", g.what, percent))
}

// tell names what is being done, once it takes long.
func (g *progress) tell(text string) {
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.out != nil && time.Since(g.begun) >= patience {
		g.show(text)
	}
}

// show puts text on the line in place of what stood there.
func (g *progress) show(text string) {
	fmt.Fprintf(g.out, "\r%s%s", text, strings.Repeat(" ", max(0, g.shown-len(text))))
	g.shown = len(text)
}

// end wipes the line.
func (g *progress) end() {
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.out != nil && g.shown > 0 {
		fmt.Fprintf(g.out, "\r%s\r", strings.Repeat(" ", g.shown))
		g.shown = 0
	}
}
