package web

import (
	"encoding/json"
	"net/http"
)

// problemJSON is an error for programs, after RFC 9457.
type problemJSON struct {
	Type   string `json:"type"`
	Title  string `json:"title"`
	Status int    `json:"status"`
	Detail string `json:"detail"`
}

func writeProblem(w http.ResponseWriter, status int, title, text string) {
	w.Header().Set("Content-Type", "application/problem+json")
	w.WriteHeader(status)
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	_ = enc.Encode(problemJSON{"about:blank", title, status, text}) // the reader is gone when this fails
}
