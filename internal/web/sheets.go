package web

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"html/template"
	"io/fs"
	"mime"
	"net/http"
	"path"
	"slices"
	"strings"
)

//go:embed all:templates assets
var embedded embed.FS

// sheets are the templates and assets, read once.
type sheets struct {
	templates map[string]*template.Template // by page
	assets    map[string]asset              // by name, such as "hackle.css"
	version   string                        // changes with any asset
}

type asset struct {
	text []byte
	kind string
}

// loadSheets reads the templates: every page has a set of its own, made of the
// layout, the parts in files whose names begin with "_", and the page's file.
func loadSheets() (*sheets, error) {
	s := &sheets{templates: map[string]*template.Template{}, assets: map[string]asset{}}
	sum := sha256.New()
	err := fs.WalkDir(embedded, "assets", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		text, err := embedded.ReadFile(name)
		if err != nil {
			return err
		}
		fmt.Fprintf(sum, "%s %d\n", name, len(text))
		sum.Write(text)
		kind := mime.TypeByExtension(path.Ext(name))
		switch path.Ext(name) { // not left to the tables of the machine
		case ".css":
			kind = "text/css; charset=utf-8"
		case ".js":
			kind = "text/javascript; charset=utf-8"
		case ".svg":
			kind = "image/svg+xml"
		case ".woff2":
			kind = "font/woff2"
		case ".txt", ".md":
			kind = "text/plain; charset=utf-8"
		}
		s.assets[strings.TrimPrefix(name, "assets/")] = asset{text, kind}
		return nil
	})
	if err != nil {
		return nil, err
	}
	s.version = hex.EncodeToString(sum.Sum(nil))[:12]
	parts, err := fs.Glob(embedded, "templates/_*.html")
	if err != nil {
		return nil, err
	}
	files, err := fs.Glob(embedded, "templates/*.html")
	if err != nil {
		return nil, err
	}
	common, err := template.New("").Option("missingkey=error").Funcs(s.funcs()).ParseFS(embedded, parts...)
	if err != nil {
		return nil, err
	}
	for _, f := range files {
		if slices.Contains(parts, f) {
			continue
		}
		t, err := common.Clone()
		if err != nil {
			return nil, err
		}
		if t, err = t.ParseFS(embedded, f); err != nil {
			return nil, err
		}
		s.templates[strings.TrimSuffix(path.Base(f), ".html")] = t
	}
	return s, nil
}

// funcs of all templates.
func (s *sheets) funcs() template.FuncMap {
	return template.FuncMap{
		// asset gives the address of an asset.
		"asset": func(name string) (string, error) {
			if _, ok := s.assets[name]; !ok {
				return "", fmt.Errorf("no asset %s", name)
			}
			return "/assets/" + s.version + "/" + name, nil
		},
		"upper": upper,
		// pack hands several values to a part, as pairs of name and value.
		"pack": func(pairs ...any) (map[string]any, error) {
			if len(pairs)%2 != 0 {
				return nil, fmt.Errorf("pack takes pairs")
			}
			m := map[string]any{}
			for i := 0; i < len(pairs); i += 2 {
				m[fmt.Sprint(pairs[i])] = pairs[i+1]
			}
			return m, nil
		},
	}
}

// serveAsset sends an asset. Its address changes with its content, so that it may
// be kept for ever.
func (s *sheets) serveAsset(w http.ResponseWriter, r *http.Request) {
	a, ok := s.assets[r.PathValue("name")]
	if !ok {
		http.Error(w, "there is no such file", http.StatusNotFound)
		return
	}
	h := w.Header()
	h.Set("Content-Type", a.kind)
	if r.PathValue("version") == s.version {
		h.Set("Cache-Control", "public, max-age=31536000, immutable")
	}
	w.Write(a.text) // the reader is gone when this fails
}
