package web

import (
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"hackle/internal/store"
	"hackle/yard"
)

// tablePage takes in a table that was written elsewhere.
type tablePage struct {
	Sheets  []choice
	Columns []yard.Column
	Sheet   string
	Faults  []string
	More    int
	Done    string
}

// mostFaultsShown is how many faults of a table a page shows.
const mostFaultsShown = 20

func tableOf(sheet string) tablePage {
	if !slices.Contains(yard.Sheets(), sheet) {
		sheet = string(yard.Weight)
	}
	p := tablePage{Sheet: sheet, Columns: yard.Columns(sheet)}
	for _, name := range yard.Sheets() {
		title := upper(name)
		if k, ok := yard.KindOf(yard.Kind(name)); ok {
			title = "Entries: " + k.Title
		}
		p.Sheets = append(p.Sheets, choice{name, title, name == sheet})
	}
	return p
}

func showTable(v *visit) (view, error) {
	return view{Title: "Bring in a table", Place: "yard", Body: tableOf(v.request.URL.Query().Get("table"))}, nil
}

// takeTable reads a table and keeps all of it or nothing. The file is read where it
// comes in and is not stored.
func takeTable(v *visit) (view, error) {
	file, header, err := v.request.FormFile("file")
	if err != nil {
		var large *http.MaxBytesError
		if errors.As(err, &large) {
			return view{}, err
		}
		return view{}, refuse("No file was chosen.")
	}
	defer file.Close()
	defer v.request.MultipartForm.RemoveAll() // the form is small and was never on a disk
	sheet := v.request.FormValue("table")
	if !slices.Contains(yard.Sheets(), sheet) {
		return view{}, refuse("table=%q, accepted: %s.", sheet, strings.Join(yard.Sheets(), ", "))
	}
	p := tableOf(sheet)
	again := func(faults ...string) (view, error) {
		if len(faults) > mostFaultsShown {
			p.More += len(faults) - mostFaultsShown
			faults = faults[:mostFaultsShown]
		}
		p.Faults = faults
		return view{Title: "Bring in a table", Place: "yard", Body: p, status: http.StatusUnprocessableEntity}, nil
	}
	n, err := v.config.Store.Notebook(v.context(), true)
	if err != nil {
		return view{}, err
	}
	name := shortened(header.Filename) // for words alone
	t, err := n.ReadCSV(name, file, sheet, time.Local)
	var wrong *yard.TableError
	if errors.As(err, &wrong) {
		faults := make([]string, len(wrong.List))
		for i, f := range wrong.List {
			faults[i] = fmt.Sprintf("Line %d, %s", f.Line, f.Fault)
		}
		p.More = wrong.More
		return again(faults...)
	} else if err != nil {
		return view{}, err
	}
	try := v.request.FormValue("try") != ""
	merged, err := v.config.Store.Merge(v.context(), &t.Notebook, try)
	var one *store.ThingError
	if errors.As(err, &one) && (yard.FaultsIn(err) != nil || errors.Is(err, store.Conflict) || errors.Is(err, store.NotFound)) {
		text := "It was changed here since the table was written."
		if yard.FaultsIn(err) != nil {
			text = faultText(err)
		}
		return again(fmt.Sprintf("Line %d: %s", t.Lines[one.ID], text))
	} else if err != nil {
		return view{}, err
	}
	p.Done = fmt.Sprintf("%d new, %d changed, %d as they were.", merged.New, merged.Changed, merged.Same)
	if try {
		p.Done = "All is well, and nothing was kept yet. It would be: " + p.Done
	} else {
		p.Done = "Kept. " + p.Done
	}
	return view{Title: "Bring in a table", Place: "yard", Body: p}, nil
}
