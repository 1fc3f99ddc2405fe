package web

import (
	"bytes"
	"fmt"
	"html/template"
	"mime"
	"net/http"
	"strings"
	"time"

	"hackle/internal/answer"
	"hackle/internal/cutaway"
)

// glancePage sums a hive up.
type glancePage struct {
	Answers []glance
	Needs   []need
	Built   answer.Hive
	Shell   []line
	Holes   []line
	Boxes   []line
	Since   string
	Notes   string
	Drawing template.HTML
	Basis   basis
}

// glance is the answer to one question, with the page that tells more.
type glance struct{ Question, Answer, Tab string }

func showHive(v *visit) (view, error) {
	a, r, err := v.answered()
	if err != nil {
		return view{}, err
	}
	s := say{v.system}
	l := &r.Ledger
	d := answer.Describe(a.Plan)
	p := glancePage{Needs: v.needsOf(l), Built: d, Since: dayIn(a.Build.From), Notes: a.Plan.Notes, Basis: basisOf(a, r)}
	p.Answers = []glance{
		{"Winter", v.winterSentence(l), "winter"}, {"Summer", v.summerSentence(l), "summer"},
		{"Water", v.waterSentence(l), "water"}, {"Vents", v.ventsSentence(a, l), "vents"},
	}
	svg, err := cutaway.Draw(a.Plan.Hive, cutaway.Options{Section: cutaway.Along, Units: v.system, Dimensions: true, Date: v.config.Now()})
	if err != nil {
		return view{}, err
	}
	p.Drawing = template.HTML(svg) // drawn here, with every name escaped
	const mm, cm2, litre = 1e-3, 1e-4, 1e-3
	for _, b := range d.Bodies {
		frames := "no frames"
		if b.Frames > 0 {
			frames = fmt.Sprintf("%d frames", b.Frames)
		}
		p.Boxes = append(p.Boxes, line{Label: upper(b.Name) + ", " + frames, Value: fmt.Sprintf("%s × %s × %s high", s.Length(b.Length*mm), s.Length(b.Width*mm), s.Length(b.Height*mm))})
	}
	p.Boxes = append(p.Boxes, line{Label: "Room inside", Value: s.Volume(d.Volume * litre)}, line{Label: "Honey that built comb can hold", Value: s.Mass(d.HoneyRoom)}, line{Label: "Weight without bees and honey", Value: s.Mass(d.EmptyMass)})
	for _, x := range d.Shell {
		p.Shell = append(p.Shell, line{Label: upper(x.Part) + ": " + x.Layers, Value: "R " + s.R(x.Resistance)})
	}
	for _, o := range d.Openings {
		p.Holes = append(p.Holes, line{Label: fmt.Sprintf("%s, %s, %s above the floor", upper(o.Name), o.Face, s.Length(o.Sill*mm)), Value: s.Area(o.Area * cm2)})
	}
	if d.MeshArea > 0 {
		p.Holes = append(p.Holes, line{Label: "Mesh floor, free area", Value: s.Area(d.MeshArea * cm2)})
	}
	return view{Title: "At a glance", Place: "yard", Hive: headOf(a), Body: p}, nil
}

// dayIn writes "2026-01-14" as it is spoken.
func dayIn(text string) string {
	t, err := time.Parse(time.DateOnly, text)
	if err != nil {
		return text
	}
	return t.Format("2 January 2006")
}

// attach makes the answer a file to keep.
func attach(w http.ResponseWriter, name, kind string) {
	w.Header().Set("Content-Type", kind)
	w.Header().Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": name}))
}

// fileName makes a name of a file from what a keeper calls a thing.
func fileName(name, tail string) string {
	var b strings.Builder
	for _, r := range strings.ToLower(name) {
		switch {
		case r >= 'a' && r <= 'z', r >= '0' && r <= '9':
			b.WriteRune(r)
		case b.Len() > 0 && !strings.HasSuffix(b.String(), "-"):
			b.WriteByte('-')
		}
		if b.Len() > 60 {
			break
		}
	}
	text := strings.Trim(b.String(), "-")
	if text == "" {
		text = "hive"
	}
	return text + tail
}

func sendFile(v *visit) (view, error) {
	a, _, err := v.hive()
	if err != nil {
		return view{}, err
	}
	attach(v.w, fileName(a.Hive.Name, ".yaml"), "application/yaml")
	_, _ = v.w.Write([]byte(a.Build.File)) // the reader is gone when this fails
	return view{written: true}, nil
}

// sendHours sends the hours of a run as CSV, as hackle year --trace does.
func sendHours(v *visit) (view, error) {
	a, head, err := v.hive()
	if err != nil {
		return view{}, err
	}
	tr, _, w, err := v.traced(v.context(), a)
	if err != nil {
		return view{}, err
	}
	if tr == nil {
		return view{}, &underway{w, head}
	}
	var b bytes.Buffer
	if err := answer.WriteTrace(&b, tr); err != nil {
		return view{}, err
	}
	attach(v.w, fileName(a.Hive.Name, "-hours.csv"), "text/csv; charset=utf-8")
	_ = http.NewResponseController(v.w).SetWriteDeadline(time.Now().Add(5 * time.Minute)) // some ten megabytes
	_, _ = v.w.Write(b.Bytes())                                                           // the reader is gone when this fails
	return view{written: true}, nil
}

func showTrust(*visit) (view, error) {
	return view{Title: "How we know", Place: "trust"}, nil
}
