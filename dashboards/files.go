package dashboards

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"io/fs"
	"mime"
	"net/http"
	"path"
	"strconv"
	"strings"
	"sync"
)

//go:embed web openapi.json
var webFiles embed.FS

// file is one embedded file, ready to be sent: as it is, and compressed.
type file struct {
	contentType string
	plain, gzip body
}

type body struct {
	bytes []byte
	etag  string // strong: each form of a file has its own
}

// fileTypes are fixed here because the machine's own list may say otherwise.
var fileTypes = map[string]string{
	".html": "text/html; charset=utf-8",
	".css":  "text/css; charset=utf-8",
	".js":   "text/javascript; charset=utf-8",
	".svg":  "image/svg+xml",
	".json": "application/json",
}

// embedded are the files of this program. They never change, so they are compressed once.
var embedded = sync.OnceValues(func() (map[string]*file, error) { return loadFiles(webFiles) })

// loadFiles reads and compresses every embedded file once.
func loadFiles(from fs.FS) (map[string]*file, error) {
	files := map[string]*file{}
	err := fs.WalkDir(from, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		kind, ok := fileTypes[path.Ext(name)]
		if !ok {
			return fmt.Errorf("dashboards: no content type for %s", name)
		}
		plain, err := fs.ReadFile(from, name)
		if err != nil {
			return err
		}
		packed, err := pack(plain, gzip.BestCompression)
		files[name] = &file{kind, newBody(plain), newBody(packed)}
		return err
	})
	return files, err
}

// pack compresses.
func pack(plain []byte, level int) ([]byte, error) {
	var out bytes.Buffer
	z, err := gzip.NewWriterLevel(&out, level)
	if err != nil {
		return nil, err
	}
	if _, err := z.Write(plain); err != nil {
		return nil, err
	}
	err = z.Close()
	return out.Bytes(), err
}

func newBody(b []byte) body {
	sum := sha256.Sum256(b)
	return body{b, `"` + hex.EncodeToString(sum[:12]) + `"`}
}

// serveFile answers with an embedded file. The browser keeps it but asks each time whether it is still
// the same, so a new luted shows its new page at once.
func (s *server) serveFile(w http.ResponseWriter, r *http.Request, name string) error {
	f, ok := s.files[name]
	if !ok {
		return notFound(r)
	}
	h := w.Header()
	h.Set("Content-Type", f.contentType)
	h.Set("Cache-Control", "no-cache")
	h.Add("Vary", "Accept-Encoding")
	b := f.plain
	if acceptsGzip(r) && len(f.gzip.bytes) < len(f.plain.bytes) {
		b = f.gzip
		h.Set("Content-Encoding", "gzip")
	}
	h.Set("ETag", b.etag)
	if etagMatches(r.Header.Get("If-None-Match"), b.etag) {
		h.Del("Content-Type")
		h.Del("Content-Encoding")
		w.WriteHeader(http.StatusNotModified)
		return nil
	}
	h.Set("Content-Length", strconv.Itoa(len(b.bytes)))
	_, _ = w.Write(b.bytes) // the other side has gone: nothing to do about it
	return nil
}

// etagMatches compares by the weak rule that If-None-Match asks for (RFC 9110, 13.1.2).
func etagMatches(header, etag string) bool {
	for tag := range strings.SplitSeq(header, ",") {
		if tag = strings.TrimSpace(tag); tag == "*" || strings.TrimPrefix(tag, "W/") == etag {
			return true
		}
	}
	return false
}

// acceptsGzip reads Accept-Encoding: gzip named, and not refused with a quality of zero.
func acceptsGzip(r *http.Request) bool {
	for part := range strings.SplitSeq(r.Header.Get("Accept-Encoding"), ",") {
		name, params, err := mime.ParseMediaType("x/" + strings.TrimSpace(part))
		if err != nil || name != "x/gzip" {
			continue
		}
		q, err := strconv.ParseFloat(params["q"], 64)
		return err != nil || q > 0
	}
	return false
}
