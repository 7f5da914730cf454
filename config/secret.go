package config

import (
	"fmt"
	"io"
	"log/slog"
)

// Secret is a password or token. It prints and logs as REDACTED; Reveal gives it to the one place that
// sends it. Two secrets cannot be compared with ==.
type Secret struct {
	// A pointer, because fmt ignores the methods below where a verb does not fit a struct around the
	// secret (%s of a *Influx inside a Config) and prints the fields as they are.
	value *string
}

const redacted = "REDACTED"

// NewSecret wraps a secret.
func NewSecret(s string) Secret { return Secret{&s} }

// Reveal returns the secret itself.
func (s Secret) Reveal() string {
	if s.value == nil {
		return ""
	}
	return *s.value
}

// Set reports whether there is a secret.
func (s Secret) Set() bool { return s.Reveal() != "" }

// String keeps secrets out of messages.
func (s Secret) String() string { return redacted }

// GoString keeps them out of %#v.
func (s Secret) GoString() string { return redacted }

// Format keeps them out of every other verb.
func (s Secret) Format(f fmt.State, _ rune) { _, _ = io.WriteString(f, redacted) }

// LogValue keeps them out of logs.
func (s Secret) LogValue() slog.Value { return slog.StringValue(redacted) }

// MarshalText keeps them out of JSON.
func (s Secret) MarshalText() ([]byte, error) { return []byte(redacted), nil }
