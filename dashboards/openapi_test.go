package dashboards

import (
	"bytes"
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
)

// description is openapi.json as far as the tests look into it.
type description struct {
	OpenAPI string `json:"openapi"`
	Paths   map[string]map[string]struct {
		OperationID string `json:"operationId"`
		Parameters  []struct{ Name, In, Description string }
		RequestBody *struct {
			Content map[string]struct {
				Schema json.RawMessage `json:"schema"`
			}
		} `json:"requestBody"`
		Responses map[string]struct {
			Content map[string]json.RawMessage
		}
	}
}

func readDescription(t *testing.T) description {
	t.Helper()
	b, err := webFiles.ReadFile("openapi.json")
	if err != nil {
		t.Fatal(err)
	}
	var d description
	if err := json.Unmarshal(b, &d); err != nil {
		t.Fatal(err)
	}
	if !strings.HasPrefix(d.OpenAPI, "3.1.") {
		t.Fatalf("OpenAPI version %q, want 3.1", d.OpenAPI)
	}
	return d
}

// validator checks values against schemas inside openapi.json. Formats (date-time) count.
type validator struct {
	c *jsonschema.Compiler
}

func newValidator(t *testing.T) *validator {
	t.Helper()
	b, err := webFiles.ReadFile("openapi.json")
	if err != nil {
		t.Fatal(err)
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	c.DefaultDraft(jsonschema.Draft2020)
	c.AssertFormat()
	if err := c.AddResource("https://luted.example/openapi.json", doc); err != nil {
		t.Fatal(err)
	}
	return &validator{c}
}

// check validates a body against the schema at a JSON pointer.
func (v *validator) check(t *testing.T, pointer string, body []byte) {
	t.Helper()
	schema, err := v.c.Compile("https://luted.example/openapi.json#" + pointer)
	if err != nil {
		t.Fatalf("%s: %v", pointer, err)
	}
	value, err := jsonschema.UnmarshalJSON(bytes.NewReader(body))
	if err != nil {
		t.Fatalf("%s: not JSON: %v\n%.300s", pointer, err, body)
	}
	if err := schema.Validate(value); err != nil {
		t.Errorf("%s: %v\n%.600s", pointer, err, body)
	}
}

// pointerTo is the JSON pointer of the schema of an answer (RFC 6901: ~1 stands for a slash).
func pointerTo(path, method, status, kind string) string {
	esc := strings.NewReplacer("~", "~0", "/", "~1", "{", "%7B", "}", "%7D")
	return "/paths/" + esc.Replace(path) + "/" + method + "/responses/" + status + "/content/" + esc.Replace(kind) + "/schema"
}

// TestDescriptionHasEveryRoute holds openapi.json and the routes together, both ways.
func TestDescriptionHasEveryRoute(t *testing.T) {
	d := readDescription(t)
	want := []string{"get /metrics"} // mounted from outside
	for _, r := range api {
		want = append(want, strings.ToLower(r.method)+" "+r.path)
	}
	var got []string
	ids := map[string]bool{}
	for path, ops := range d.Paths {
		for method, op := range ops {
			got = append(got, method+" "+path)
			if op.OperationID == "" || ids[op.OperationID] {
				t.Errorf("%s %s: operationId %q is missing or used twice", method, path, op.OperationID)
			}
			ids[op.OperationID] = true
		}
	}
	slices.Sort(want)
	slices.Sort(got)
	if !slices.Equal(got, want) {
		t.Errorf("openapi.json describes\n  %s\nthe routes are\n  %s", strings.Join(got, "\n  "), strings.Join(want, "\n  "))
	}
}

// TestDescriptionHasEveryParameter asks every operation for a parameter that there is not: the refusal
// lists those there are, which must be those described.
func TestDescriptionHasEveryParameter(t *testing.T) {
	d := readDescription(t)
	h := newHandler(t, sceneOptions(newScene()))
	listed := regexp.MustCompile(`there are ([a-z, ]+)$`)
	for path, ops := range d.Paths {
		op, ok := ops["get"]
		if !ok || op.Responses["400"].Content == nil {
			continue // takes whatever comes
		}
		var want []string
		for _, p := range op.Parameters {
			if p.In == "query" {
				want = append(want, p.Name)
			}
			if p.Description == "" {
				t.Errorf("%s: parameter %s has no description", path, p.Name)
			}
		}
		res := get(h, strings.NewReplacer("{still}", "north", "{run}", "40", "{month}", "2026-03").Replace(path)+"?nosuch=1")
		if res.Code != http.StatusBadRequest {
			t.Errorf("%s?nosuch=1: status %d, want 400", path, res.Code)
			continue
		}
		var p problem
		decode(t, res, &p)
		var got []string
		if m := listed.FindStringSubmatch(p.Detail); m != nil {
			got = strings.Split(m[1], ", ")
		}
		slices.Sort(want)
		slices.Sort(got)
		if !slices.Equal(got, want) {
			t.Errorf("%s takes %v, openapi.json describes %v (%s)", path, got, want, p.Detail)
		}
	}
}

// request is a request from this machine's own network, as a browser makes it.
func request(method, target string, body io.Reader) *http.Request {
	return httptest.NewRequest(method, target, body)
}

func get(h http.Handler, target string) *httptest.ResponseRecorder {
	w := httptest.NewRecorder()
	h.ServeHTTP(w, request("GET", target, nil))
	return w
}

func post(h http.Handler, target, body string) *httptest.ResponseRecorder {
	w := httptest.NewRecorder()
	r := request("POST", target, strings.NewReader(body))
	r.Header.Set("Content-Type", "application/json")
	h.ServeHTTP(w, r)
	return w
}

func decode(t *testing.T, res *httptest.ResponseRecorder, into any) {
	t.Helper()
	if err := json.Unmarshal(res.Body.Bytes(), into); err != nil {
		t.Fatalf("not JSON: %v\n%.300s", err, res.Body)
	}
}
