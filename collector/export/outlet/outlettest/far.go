package outlettest

import (
	"context"
	"errors"
	"io"
	"net"
	"net/http"
	"strings"
	"sync"
	"time"
)

// Far is the other side of an outlet under test: what it has taken, and how it behaves.
type Far struct {
	// Repeats allows a thing to be said again at any time (a state rather than a message); then only its
	// first time is noted.
	Repeats bool

	mu     sync.Mutex
	mode   Mode
	refuse map[string]bool
	taken  []Taken
	asked  int
}

// Taken is one thing that was accepted.
type Taken struct {
	Delivery string // the id of the message or request it came in; empty if the protocol has none
	ID       string
	At       time.Time
}

// Mode is how the other side behaves.
type Mode int

// The modes.
const (
	Up    Mode = iota // takes everything but what it refuses
	Down              // cannot be reached: no connection
	Cut               // breaks every connection without taking anything
	Hang              // does not answer
	Lossy             // takes everything, but the connection breaks before its answer
	Busy              // asks to come back later
)

// Answer is what it said.
type Answer int

// The answers.
const (
	Accepted Answer = iota
	Refused
	Broken // the connection breaks
	Later
)

// Set changes the mode.
func (f *Far) Set(m Mode) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.mode = m
}

// Refuse makes it refuse every request that holds the thing.
func (f *Far) Refuse(id string) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.refuse == nil {
		f.refuse = make(map[string]bool)
	}
	f.refuse[id] = true
}

// Dial says whether a connection can be made; a try that fails counts as a request.
func (f *Far) Dial() error {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.mode != Down {
		return nil
	}
	f.asked++
	return &net.OpError{Op: "dial", Net: "tcp", Err: errors.New("connection refused")}
}

// Ask is one request with the things it holds.
func (f *Far) Ask(ctx context.Context, delivery string, ids []string) Answer {
	f.mu.Lock()
	f.asked++
	mode := f.mode
	if mode == Hang {
		f.mu.Unlock()
		<-ctx.Done()
		return Broken
	}
	defer f.mu.Unlock()
	switch mode {
	case Down, Cut:
		return Broken
	case Busy:
		return Later
	}
	for _, id := range ids {
		if f.refuse[id] {
			return Refused
		}
	}
	for _, id := range ids {
		if !f.Repeats || !f.has(id) {
			f.taken = append(f.taken, Taken{delivery, id, time.Now()})
		}
	}
	if mode == Lossy {
		return Broken
	}
	return Accepted
}

func (f *Far) has(id string) bool {
	for _, t := range f.taken {
		if t.ID == id {
			return true
		}
	}
	return false
}

// Taken returns what was accepted so far, in order.
func (f *Far) Taken() []Taken {
	f.mu.Lock()
	defer f.mu.Unlock()
	return append([]Taken(nil), f.taken...)
}

// Asked is how many requests there were.
func (f *Far) Asked() int {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.asked
}

// HTTP is a transport to the other side, without a network. read says what is in a request.
func (f *Far) HTTP(read func(h http.Header, body []byte) (delivery string, ids []string)) http.RoundTripper {
	return transport{f, read}
}

type transport struct {
	far  *Far
	read func(http.Header, []byte) (string, []string)
}

// RoundTrip implements http.RoundTripper.
func (t transport) RoundTrip(r *http.Request) (*http.Response, error) {
	body, err := io.ReadAll(r.Body)
	if err != nil {
		return nil, err
	}
	if err := t.far.Dial(); err != nil {
		return nil, err
	}
	delivery, ids := t.read(r.Header, body)
	resp := &http.Response{Request: r, Header: http.Header{}, Body: io.NopCloser(strings.NewReader("")), Proto: "HTTP/1.1", ProtoMajor: 1, ProtoMinor: 1}
	switch t.far.Ask(r.Context(), delivery, ids) {
	case Accepted:
		resp.StatusCode = http.StatusNoContent
	case Refused:
		resp.StatusCode = http.StatusBadRequest
		resp.Body = io.NopCloser(strings.NewReader("this will never do"))
	case Later:
		resp.StatusCode = http.StatusServiceUnavailable
		resp.Header.Set("Retry-After", "420")
	default:
		if err := r.Context().Err(); err != nil {
			return nil, err
		}
		return nil, errors.New("connection reset")
	}
	return resp, nil
}
