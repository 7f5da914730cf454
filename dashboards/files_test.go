package dashboards

import (
	"compress/gzip"
	"io"
	"io/fs"
	"net/http"
	"regexp"
	"strings"
	"testing"
	"testing/fstest"
)

// TestFiles: every file of the page is sent with its type, compressed for those who take it, and not at
// all to those who have it.
func TestFiles(t *testing.T) {
	h := newHandler(t, sceneOptions(newScene()))
	err := fs.WalkDir(webFiles, "web", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		want, err := fs.ReadFile(webFiles, name)
		if err != nil {
			return err
		}
		r := request("GET", "/"+name, nil)
		plain := recorderFor(h, r)
		if plain.Code != 200 || plain.Body.String() != string(want) || plain.Header().Get("Content-Encoding") != "" {
			t.Errorf("%s: %d, encoding %q", name, plain.Code, plain.Header().Get("Content-Encoding"))
		}
		r.Header.Set("Accept-Encoding", "br, gzip;q=0.8")
		packed := recorderFor(h, r)
		z, err := gzip.NewReader(packed.Body)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if got, err := io.ReadAll(z); err != nil || string(got) != string(want) {
			t.Errorf("%s: unpacks to something else (%v)", name, err)
		}
		if packed.Header().Get("ETag") == plain.Header().Get("ETag") || packed.Header().Get("Vary") != "Accept-Encoding" {
			t.Errorf("%s: both forms have the tag %s (RFC 9110, 8.8.3.3 wants two), Vary %q", name, packed.Header().Get("ETag"), packed.Header().Get("Vary"))
		}
		r.Header.Set("If-None-Match", `"other", W/`+packed.Header().Get("ETag"))
		if again := recorderFor(h, r); again.Code != http.StatusNotModified || again.Body.Len() != 0 {
			t.Errorf("%s: asked again with its tag: %d, %d bytes", name, again.Code, again.Body.Len())
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

func TestAcceptsGzip(t *testing.T) {
	for header, want := range map[string]bool{
		"gzip": true, "gzip, br": true, "br;q=1.0, gzip;q=0.5": true, "GZIP": true,
		"": false, "br": false, "gzip;q=0": false, "gzip;q=0.0": false, "x-gzip": false, "identity": false, ";;": false,
	} {
		r := request("GET", "/", nil)
		r.Header.Set("Accept-Encoding", header)
		if got := acceptsGzip(r); got != want {
			t.Errorf("Accept-Encoding %q: %v, want %v (RFC 9110, 12.5.3)", header, got, want)
		}
	}
}

// mostWeight is the aim for the whole page, as sent: 150 kB.
const mostWeight = 150_000

// TestWeight holds the page to its weight.
func TestWeight(t *testing.T) {
	files, err := loadFiles(webFiles)
	if err != nil {
		t.Fatal(err)
	}
	var packed, plain int
	for name, f := range files {
		if strings.HasPrefix(name, "web/") {
			packed += len(f.gzip.bytes)
			plain += len(f.plain.bytes)
		}
	}
	t.Logf("all pages together: %d bytes as sent, %d unpacked", packed, plain)
	if packed > mostWeight {
		t.Errorf("the page weighs %d bytes, want at most %d", packed, mostWeight)
	}
}

// TestNothingFromElsewhere: no file of the page names another host, except as the name of a format.
func TestNothingFromElsewhere(t *testing.T) {
	address := regexp.MustCompile(`(?i)\b(?:https?:)?//[a-z0-9][^\s"'<>)]*`)
	err := fs.WalkDir(webFiles, "web", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := fs.ReadFile(webFiles, name)
		for _, found := range address.FindAllString(string(b), -1) {
			if strings.Contains(found, "//www.w3.org/2000/svg") || !strings.Contains(found, ":") && strings.HasPrefix(found, "// ") {
				continue
			}
			t.Errorf("%s names %s", name, found)
		}
		if strings.HasSuffix(name, ".html") && regexp.MustCompile(`(?i)<script(?:\s[^>]*)?>[^<]|\son[a-z]+=|style=`).Match(b) {
			t.Errorf("%s has an inline script, handler or style, which the policy forbids", name)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}

func TestUnknownKindOfFile(t *testing.T) {
	if _, err := loadFiles(fstest.MapFS{"web/x.exe": {Data: []byte("x")}}); err == nil {
		t.Error("a file without a content type was taken")
	}
}
