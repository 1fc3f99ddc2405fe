package web

import (
	"bytes"
	"encoding"
	"encoding/json"
	"fmt"
	"reflect"
	"regexp"
	"strings"
	"time"

	"hackle/ensemble"
	"hackle/ledger"
)

// OpenAPI is the description of the interface for programs, as JSON.
func OpenAPI() ([]byte, error) {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	err := enc.Encode(openAPI())
	return b.Bytes(), err
}

// openAPI describes the interface in the form of OpenAPI 3.1. It is made from the
// table of endpoints and the types of the documents, so that it cannot fall behind.
func openAPI() map[string]any {
	d := &describer{schemas: map[string]any{}, meanings: map[string]string{}}
	for _, l := range ledger.Lines() {
		d.meanings[l.Key] = fmt.Sprintf("%s [%s]", l.Meaning, l.Unit)
	}
	paths := map[string]any{}
	inPath := regexp.MustCompile(`\{(\w+)\}`)
	content := func(kind string, of any) map[string]any {
		return map[string]any{kind: map[string]any{"schema": d.schema(reflect.TypeOf(of), "")}}
	}
	for _, e := range endpoints() {
		method, path, _ := strings.Cut(e.route, " ")
		op := map[string]any{"operationId": e.name, "summary": e.summary}
		params := []any{}
		for _, m := range inPath.FindAllStringSubmatch(path, -1) {
			params = append(params, map[string]any{"name": m[1], "in": "path", "required": true, "schema": map[string]any{"type": "string"}})
		}
		for _, p := range e.params {
			params = append(params, map[string]any{"name": p.name, "in": "query", "required": false, "description": p.meaning, "schema": map[string]any{"type": "string"}})
		}
		if len(params) > 0 {
			op["parameters"] = params
		}
		switch {
		case e.takes != nil:
			op["requestBody"] = map[string]any{"required": true, "content": content("application/json", e.takes)}
		case e.text != "":
			op["requestBody"] = map[string]any{"required": true, "content": map[string]any{e.text: map[string]any{"schema": map[string]any{"type": "string"}}}}
		}
		good := "200"
		if e.made {
			good = "201"
		}
		answers := map[string]any{
			good:      map[string]any{"description": e.summary, "content": content("application/json", e.gives)},
			"default": map[string]any{"description": "Why it cannot be answered", "content": content("application/problem+json", problemDoc{})},
		}
		if e.later {
			answers["202"] = map[string]any{"description": "It is being computed: ask again, or follow the events", "content": content("application/json", workDoc{})}
		}
		op["responses"] = answers
		if paths[path] == nil {
			paths[path] = map[string]any{}
		}
		paths[path].(map[string]any)[strings.ToLower(method)] = op
	}
	return map[string]any{
		"openapi": "3.1.0",
		"info": map[string]any{
			"title": "hackle", "version": "1",
			"summary":     "Heat, moisture, bees and honey of hives, on this machine",
			"description": "Numbers are SI; names end in the unit. What changes something must come from the pages themselves or from a program that sends no Origin. Behind a password, a session cookie of POST /login is wanted. A body is at most 1 MiB.",
			"license":     map[string]any{"name": "Apache-2.0", "identifier": "Apache-2.0"},
		},
		"servers":    []any{map[string]any{"url": apiRoot}},
		"paths":      paths,
		"components": map[string]any{"schemas": d.schemas},
	}
}

// describer makes schemas of types.
type describer struct {
	schemas  map[string]any
	meanings map[string]string // of numbers of the ledger, by their place
}

var (
	timeType = reflect.TypeFor[time.Time]()
	dateType = reflect.TypeFor[ledger.Date]()
	rawType  = reflect.TypeFor[json.RawMessage]()
	guess    = reflect.TypeFor[ensemble.Estimate]()
	textType = reflect.TypeFor[encoding.TextMarshaler]()
)

// schema of a type. At is the place in the ledger where it stands.
func (d *describer) schema(t reflect.Type, at string) map[string]any {
	switch t {
	case timeType:
		return map[string]any{"type": "string", "format": "date-time"}
	case dateType:
		return map[string]any{"type": "string", "description": "a day such as 2026-01-14, empty when there is none"}
	case rawType:
		return map[string]any{}
	case guess: // writes itself, with null for what is not known
		number := map[string]any{"type": []any{"number", "null"}}
		return map[string]any{"type": "object", "properties": map[string]any{"value": number, "low": number, "high": number}, "required": []any{"value", "low", "high"}, "additionalProperties": false}
	}
	if t.Kind() != reflect.Pointer && t.Implements(textType) {
		return map[string]any{"type": "string"}
	}
	switch t.Kind() {
	case reflect.Pointer:
		if t.Elem().Kind() == reflect.Float64 {
			return map[string]any{"type": []any{"number", "null"}}
		}
		return d.schema(t.Elem(), at)
	case reflect.Bool:
		return map[string]any{"type": "boolean"}
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64, reflect.Uint, reflect.Uint8, reflect.Uint16, reflect.Uint32, reflect.Uint64:
		return map[string]any{"type": "integer"}
	case reflect.Float32, reflect.Float64:
		return map[string]any{"type": "number"}
	case reflect.String:
		return map[string]any{"type": "string"}
	case reflect.Slice, reflect.Array:
		return map[string]any{"type": "array", "items": d.schema(t.Elem(), at+"[]")}
	case reflect.Map:
		return map[string]any{"type": "object", "additionalProperties": d.schema(t.Elem(), at)}
	case reflect.Struct:
		name := typeName(t)
		if _, ok := d.schemas[name]; !ok {
			d.schemas[name] = nil // a type may hold itself
			properties, required := map[string]any{}, []any{}
			d.fields(t, at, properties, &required)
			d.schemas[name] = map[string]any{"type": "object", "properties": properties, "required": required, "additionalProperties": false}
		}
		return map[string]any{"$ref": "#/components/schemas/" + name}
	}
	return map[string]any{}
}

// fields adds what JSON shows of a struct, with what it embeds.
func (d *describer) fields(t reflect.Type, at string, properties map[string]any, required *[]any) {
	for i := range t.NumField() {
		f := t.Field(i)
		tag, has := f.Tag.Lookup("json")
		name, options, _ := strings.Cut(tag, ",")
		if f.Anonymous && !has {
			inner := f.Type
			if inner.Kind() == reflect.Pointer {
				inner = inner.Elem()
			}
			d.fields(inner, at, properties, required)
			continue
		}
		if !f.IsExported() || name == "-" {
			continue
		}
		if name == "" {
			name = f.Name
		}
		place := strings.TrimPrefix(at+"."+name, ".")
		s := d.schema(f.Type, place)
		if m := d.meanings[place]; m != "" && s["$ref"] == nil {
			s["description"] = m
		}
		properties[name] = s
		if !strings.Contains(options, "omitempty") && !strings.Contains(options, "omitzero") {
			*required = append(*required, name)
		}
	}
}

// typeName is the name of a type with its package, such as LedgerHoney.
func typeName(t reflect.Type) string {
	parts := strings.Split(t.PkgPath(), "/")
	pkg := parts[len(parts)-1]
	if pkg == "web" {
		return upper(strings.TrimSuffix(t.Name(), "Doc"))
	}
	return upper(pkg) + upper(t.Name())
}
