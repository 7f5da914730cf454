package config

import (
	"bytes"
	"encoding/json"
	"path/filepath"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"gopkg.in/yaml.v3"

	"os"
)

// notInSchema are the mistakes that JSON Schema cannot say, so that an editor shows nothing and only
// `luted check` finds them. Why each of them is here:
var notInSchema = map[string]string{
	"altitude-space":             "compares a number with its unit",
	"archive-keep-short":         "compares a number with its unit",
	"archive-size-small":         "compares a number with its unit",
	"device-leading-zero":        "YAML 1.2 reads 10, YAML 1.1 reads 8",
	"every-zero":                 "compares a number with its unit",
	"line-timeout-zero":          "compares a number with its unit",
	"charge-negative":            "compares a number with its unit",
	"charge-zero":                "compares a number with its unit",
	"gas-limit":                  "compares a number with its unit",
	"jacket-below-zero":          "compares a number with its unit",
	"vacuum-absolute-zero":       "compares a number with its unit",
	"vacuum-absolute-negative":   "compares a number with its unit",
	"vacuum-gauge-negative":      "compares a number with its unit",
	"limits-crossed":             "compares two quantities",
	"limits-deadband-wide":       "compares three quantities",
	"limits-deadband-negative":   "compares a number with its unit",
	"limits-other-unit":          "the unit is that of another key",
	"limits-other-no-unit":       "the unit is that of another key",
	"channel-range-units":        "compares the units of two quantities",
	"channel-range-unit-differs": "compares two units",
	"channel-range-flat":         "compares two quantities",
	"channel-raw-flat":           "compares two numbers",
	"channel-words-on-int16":     "depends on the encoding",
	"channel-address-overflow":   "depends on the encoding",
	"other-bool-with-scale":      "depends on the encoding",
	"channel-invert-number":      "depends on the encoding",
	"channel-no-register":        "a still without a line needs none",
	"upkeep-days-short":          "compares a number with its unit",
	"meters-range":               "compares a number with its unit",
	"price-zero":                 "the size of a number inside a text",
	"price-currencies":           "compares two prices",
	"price-solvent-typo":         "names have too many spellings",
	"price-solvent-twice":        "names have too many spellings",
	"own-solvent-density":        "compares a number with its unit",
	"own-solvent-known-name":     "names have too many spellings",
	"own-solvent-typo":           "names have too many spellings",
	"solvent-typo":               "names have too many spellings",
	"solvent-unheard":            "names have too many spellings",
	"blend-sum":                  "a sum",
	"blend-typo":                 "names have too many spellings",
	"blend-same-twice":           "names have too many spellings",
	"still-no-such-line":         "refers to another part of the file",
	"still-no-lines":             "refers to another part of the file",
	"time-zone":                  "a table of its own",
	"influx-token-no-env":        "the environment",
	"influx-token-empty-env":     "the environment",
	"influx-token-no-file":       "another file",
	"influx-token-directory":     "another file",
	"influx-url-login":           "the grammar of addresses",
	"two-documents":              "an editor looks at each document by itself",
	"line-port":                  "a number inside a text",
	"text-with-line-break":       "left to the reader of the text",
	"channel-misspelt":           "how alike two names are",
	"channel-unit-brackets":      "left to the reader of the text",
}

// TestSchemaGolden keeps the schema as a file, for editors and for the eye.
func TestSchemaGolden(t *testing.T) { golden(t, "luted.schema.json", string(Schema())) }

// TestSchemaAgrees compares the schema with the reader, by a validator that nobody here wrote: what the
// reader takes the schema takes, and what it refuses the schema refuses, but for the list above.
func TestSchemaAgrees(t *testing.T) {
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(Schema()))
	if err != nil {
		t.Fatal(err)
	}
	compiler := jsonschema.NewCompiler()
	compiler.DefaultDraft(jsonschema.Draft2020)
	compiler.AssertFormat()
	if err := compiler.AddResource("luted.schema.json", doc); err != nil {
		t.Fatal(err)
	}
	sch, err := compiler.Compile("luted.schema.json") // checks the schema against its own meta-schema first
	if err != nil {
		t.Fatal(err)
	}
	for _, dir := range []string{"good", "warn", "bad"} {
		for _, name := range testFiles(t, dir) {
			base := strings.TrimSuffix(filepath.Base(name), ".yaml")
			value, ok := asJSON(t, name)
			if !ok {
				continue // not YAML, or not one document: no schema sees it
			}
			err := sch.Validate(value)
			why, excused := notInSchema[base]
			switch {
			case dir != "bad" && err != nil:
				t.Errorf("%s is good, but the schema says: %v", name, err)
			case dir == "bad" && err == nil && !excused:
				t.Errorf("%s is bad, but the schema takes it", name)
			case dir == "bad" && err != nil && excused:
				t.Errorf("%s is refused by the schema; take it from the list (%s)", name, why)
			}
		}
	}
}

// asJSON is the file as an editor's language server sees it: aliases and merges unfolded.
func asJSON(t *testing.T, name string) (any, bool) {
	t.Helper()
	data, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	var v any
	if err := yaml.Unmarshal(data, &v); err != nil {
		return nil, false
	}
	b, err := json.Marshal(v)
	if err != nil {
		return nil, false
	}
	out, err := jsonschema.UnmarshalJSON(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	return out, true
}

// TestSchemaWords: every key that people can write says what it means.
func TestSchemaWords(t *testing.T) {
	var root struct {
		Properties map[string]struct{ Description string }
		Defs       map[string]struct {
			Properties map[string]struct{ Description, Ref string }
		} `json:"$defs"`
	}
	if err := json.Unmarshal(Schema(), &root); err != nil {
		t.Fatal(err)
	}
	if len(root.Properties) < 8 || len(root.Defs) < 15 {
		t.Fatalf("%d keys and %d definitions", len(root.Properties), len(root.Defs))
	}
	for k, p := range root.Properties {
		if p.Description == "" {
			t.Errorf("%s has no description", k)
		}
	}
	for d, def := range root.Defs {
		for k, p := range def.Properties {
			if p.Description == "" && !strings.HasSuffix(d, "channels") {
				t.Errorf("%s.%s has no description", d, k)
			}
		}
	}
}
