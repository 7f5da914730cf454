package dashboards

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"errors"
	"io"
	"mime"
	"net/http"
	"strconv"
	"strings"
)

// packFrom is the size from which an answer is worth compressing: less fits one packet anyway.
const packFrom = 1400

// maxBody is the most that a request may carry. The longest sensible one is a shelving with its reason.
const maxBody = 8 << 10

// writeJSON answers with v. Answers are never kept: they are the present moment.
func (s *server) writeJSON(w http.ResponseWriter, r *http.Request, v any) error {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return err
	}
	h := w.Header()
	h.Set("Content-Type", "application/json")
	h.Set("Cache-Control", "no-store")
	h.Add("Vary", "Accept-Encoding")
	out := b.Bytes()
	if len(out) >= packFrom && acceptsGzip(r) {
		packed, err := pack(out, gzip.BestSpeed)
		if err != nil {
			return err
		}
		out = packed
		h.Set("Content-Encoding", "gzip")
	}
	h.Set("Content-Length", strconv.Itoa(len(out)))
	_, _ = w.Write(out) // the other side has gone: nothing to do about it
	return nil
}

// readJSON reads the one JSON object of a request into v, and refuses anything else with what to send.
func readJSON(w http.ResponseWriter, r *http.Request, v any) error {
	kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	if err != nil || kind != "application/json" {
		return problemf(http.StatusUnsupportedMediaType, "Send the body as JSON, with Content-Type: application/json.")
	}
	d := json.NewDecoder(http.MaxBytesReader(w, r.Body, maxBody))
	d.DisallowUnknownFields()
	if err := d.Decode(v); err != nil {
		return bodyProblem(err)
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return problemf(http.StatusBadRequest, "There is more after the JSON object; send one object only.")
	}
	return nil
}

func bodyProblem(err error) error {
	var tooLong *http.MaxBytesError
	var wrongType *json.UnmarshalTypeError
	switch {
	case errors.As(err, &tooLong):
		return problemf(http.StatusRequestEntityTooLarge, "The body is longer than %d bytes.", tooLong.Limit)
	case errors.As(err, &wrongType) && wrongType.Field != "":
		return badRequest([]paramProblem{{wrongType.Field, "is a " + wrongType.Value + ", and should be a " + wrongType.Type.String()}})
	case errors.Is(err, io.EOF):
		return problemf(http.StatusBadRequest, "The body is empty; send a JSON object.")
	}
	return problemf(http.StatusBadRequest, "The body is not the JSON object expected here: %s.", strings.TrimPrefix(err.Error(), "json: "))
}
