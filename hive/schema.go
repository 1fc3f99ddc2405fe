package hive

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"maps"
	"net/url"

	"hackle/quantity"
)

// schemaJSON is the schema as made by makeSchema; a test keeps it up to date.
//
//go:embed hive.schema.json
var schemaJSON []byte

// Schema returns the JSON Schema (2020-12) of the hive file, for editors that
// complete and check YAML while it is written. It knows every key that Decode
// knows; what stands between the keys, such as whether frames fit their box,
// only Decode checks.
func Schema() []byte { return append([]byte(nil), schemaJSON...) }

func ref(name string) map[string]any {
	return map[string]any{"$ref": "#/$defs/" + url.PathEscape(name)}
}

func enum(words []string) map[string]any { return map[string]any{"enum": words} }

func constant(word string) map[string]any { return map[string]any{"const": word} }

func anyOf(schemas ...any) map[string]any { return map[string]any{"anyOf": schemas} }

// objectSchema is the schema of a map with the keys of a table of fields.
func objectSchema[T any](fields []field[T], needed ...string) map[string]any {
	properties := make(map[string]any, len(fields))
	for _, f := range fields {
		property := map[string]any{"description": f.doc}
		if s, ok := f.schema.(map[string]any); ok {
			maps.Copy(property, s)
		}
		properties[f.key] = property
	}
	object := map[string]any{"type": "object", "properties": properties, "additionalProperties": false}
	if len(needed) > 0 {
		object["required"] = needed
	}
	return object
}

// makeSchema builds the schema out of the tables that reader and writer follow.
func makeSchema() ([]byte, error) {
	layer := anyOf(
		map[string]any{"type": "string", "pattern": `[0-9½¼¾]`, "description": "Material and thickness, such as softwood 19 mm; or resistance, thickness and name, such as R-5 2 in wrap."},
		objectSchema(layerFields()),
	)
	layers := anyOf(constant(noneWord), ref("layer"), map[string]any{"type": "array", "items": ref("layer"), "maxItems": mostLayers})
	defs := map[string]any{
		"hive":          objectSchema(hiveFields(), "type"),
		"body":          objectSchema(bodyFields()),
		"frames":        objectSchema(framesFields()),
		"floor":         objectSchema(floorFields()),
		"tray state":    objectSchema(switchFields("tray", "in", "out")(), "from", "tray"),
		"top board":     objectSchema(topBoardFields()),
		"hole state":    objectSchema(switchFields("hole", "open", "closed")(), "from", "hole"),
		"lid":           objectSchema(lidFields()),
		"opening":       objectSchema(openingFields()),
		"opening state": objectSchema(stateFields(), "from", "width"),
		"follower":      objectSchema(followerFields()),
		"wrap":          objectSchema(wrapFields()),
		"finish":        anyOf(map[string]any{"type": "string"}, objectSchema(finishFields())),
		"walls":         anyOf(ref("layers"), objectSchema(wallsFields())),
		"layer":         layer,
		"layers":        layers,
		"material":      objectSchema(materialFields()),
		"colony":        objectSchema(colonyFields()),
		"feed":          objectSchema(feedFields(), "day"),
		"flow":          objectSchema(flowFields(), "from", "to", "nectar"),
		"site":          objectSchema(siteFields()),
		"neighbours":    objectSchema(neighbourFields()),
		"measured":      objectSchema(measuredFields()),
		// YAML readers that know dates turn 2026-10-15 into one; as text it is the same.
		"day": map[string]any{"type": "string", "pattern": `[A-Za-z]{3}|^[0-9]{4}-[0-9]{2}-[0-9]{2}$`, "description": "15 Oct, 15 Oct 2026 or 2026-10-15."},
	}
	for _, kind := range quantity.Kinds() {
		pattern := `[0-9½¼¾].*[A-Za-z%‰°"'#µ]`
		if kind == quantity.Resistance {
			pattern += `|^ *[Rr]`
		}
		defs[kind.String()] = map[string]any{
			"type": "string", "pattern": pattern,
			"description": fmt.Sprintf("Number and unit: %s such as %s.", kind, kind.Examples()),
		}
	}
	schema := objectSchema(planFields(), "version", "hive")
	schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
	schema["title"] = "Hive file"
	schema["$defs"] = used(schema, defs)
	text, err := json.MarshalIndent(schema, "", "\t")
	if err != nil {
		return nil, fmt.Errorf("schema of the hive file: %w", err)
	}
	return append(text, '\n'), nil
}

// used returns the definitions that root leads to.
func used(root any, defs map[string]any) map[string]any {
	out := make(map[string]any)
	var walk func(v any)
	walk = func(v any) {
		switch v := v.(type) {
		case map[string]any:
			if target, ok := v["$ref"].(string); ok {
				for name, def := range defs {
					if ref(name)["$ref"] == target && out[name] == nil {
						out[name] = def
						walk(def)
					}
				}
			}
			for _, child := range v {
				walk(child)
			}
		case []any:
			for _, child := range v {
				walk(child)
			}
		}
	}
	walk(root)
	return out
}
