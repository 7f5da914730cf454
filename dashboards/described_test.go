package dashboards

import (
	"encoding/json"
	"reflect"
	"slices"
	"strings"
	"testing"

	"luted/analysis"
	"luted/collector/archive"
)

// schemaNode is a schema as far as these tests look into it.
type schemaNode struct {
	Ref        string                 `json:"$ref"`
	Properties map[string]*schemaNode `json:"properties"`
	Required   []string               `json:"required"`
	Items      *schemaNode            `json:"items"`
	Enum       []any                  `json:"enum"`
}

// TestDescriptionHasEveryFigure holds the schemas of a run and the types behind them together, both ways: a
// figure that the description does not know would be refused by whoever checks answers against it.
func TestDescriptionHasEveryFigure(t *testing.T) {
	b, err := webFiles.ReadFile("openapi.json")
	if err != nil {
		t.Fatal(err)
	}
	var d struct {
		Components struct {
			Schemas map[string]*schemaNode `json:"schemas"`
		} `json:"components"`
	}
	if err := json.Unmarshal(b, &d); err != nil {
		t.Fatal(err)
	}
	resolve := func(n *schemaNode) *schemaNode {
		if n != nil && n.Ref != "" {
			return d.Components.Schemas[strings.TrimPrefix(n.Ref, "#/components/schemas/")]
		}
		return n
	}
	var compare func(where string, typ reflect.Type, n *schemaNode)
	compare = func(where string, typ reflect.Type, n *schemaNode) {
		n = resolve(n)
		for typ.Kind() == reflect.Pointer || typ.Kind() == reflect.Slice {
			if typ.Kind() == reflect.Slice && n != nil {
				n = resolve(n.Items)
			}
			typ = typ.Elem()
		}
		if typ.Kind() != reflect.Struct || typ.PkgPath() == "time" {
			return
		}
		if n == nil || n.Properties == nil {
			t.Errorf("%s: openapi.json does not say what is in it", where)
			return
		}
		var got []string
		for _, f := range reflect.VisibleFields(typ) {
			name, rest, _ := strings.Cut(f.Tag.Get("json"), ",")
			if name == "" || name == "-" || !f.IsExported() {
				continue
			}
			got = append(got, name)
			if must := slices.Contains(n.Required, name); must == (rest == "omitempty") {
				t.Errorf("%s.%s: required in openapi.json: %t; left out where not known: %t", where, name, must, rest == "omitempty")
			}
			compare(where+"."+name, f.Type, n.Properties[name])
		}
		var want []string
		for name := range n.Properties {
			want = append(want, name)
		}
		slices.Sort(got)
		slices.Sort(want)
		if !slices.Equal(got, want) {
			t.Errorf("%s has\n  %v\nopenapi.json describes\n  %v", where, got, want)
		}
	}
	compare("Run", reflect.TypeFor[runView](), d.Components.Schemas["Run"])
	compare("Summary", reflect.TypeFor[analysis.Summary](), d.Components.Schemas["Summary"])
	compare("EnergyRun", reflect.TypeFor[energyRun](), d.Components.Schemas["Energy"].Properties["runs"].Items)
}

// TestDescriptionHasEveryKind: what the journal can hold can be asked for, and the description says so.
func TestDescriptionHasEveryKind(t *testing.T) {
	kinds := []archive.Kind{archive.EventEntry, archive.AlarmEntry, archive.NoteEntry, archive.ActEntry, archive.CheckListEntry, archive.CheckEntry, archive.AmendEntry}
	var d struct {
		Paths map[string]struct {
			Get struct {
				Parameters []struct {
					Name   string
					Schema schemaNode
				}
			}
		}
	}
	b, err := webFiles.ReadFile("openapi.json")
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(b, &d); err != nil {
		t.Fatal(err)
	}
	h := newHandler(t, sceneOptions(newScene()))
	for _, p := range d.Paths["/api/journal"].Get.Parameters {
		if p.Name != "kind" {
			continue
		}
		if len(p.Schema.Enum) != len(kinds) {
			t.Errorf("openapi.json has the kinds %v, the journal %v", p.Schema.Enum, kinds)
		}
		for _, k := range kinds {
			if !slices.Contains(p.Schema.Enum, any(string(k))) {
				t.Errorf("openapi.json does not know the kind %s", k)
			}
			res := get(h, "/api/journal?limit=1000&kind="+string(k))
			if res.Code != 200 {
				t.Errorf("kind %s: %s", k, res.Body)
				continue
			}
			var got journalView
			decode(t, res, &got)
			for _, e := range got.Entries {
				if e.Kind != k {
					t.Errorf("asked for %s, got entry %d of kind %s", k, e.Seq, e.Kind)
				}
			}
		}
		return
	}
	t.Error("the journal takes no kind")
}
