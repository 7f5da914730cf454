package config

import "log/slog"

// Secret is a password or token. It prints and logs as REDACTED; Reveal gives it to the one place that
// sends it.
type Secret struct{ value string }

// NewSecret wraps a secret.
func NewSecret(s string) Secret { return Secret{s} }

// Reveal returns the secret itself.
func (s Secret) Reveal() string { return s.value }

// Set reports whether there is a secret.
func (s Secret) Set() bool { return s.value != "" }

// String keeps secrets out of messages.
func (s Secret) String() string { return "REDACTED" }

// GoString keeps them out of %#v.
func (s Secret) GoString() string { return "REDACTED" }

// LogValue keeps them out of logs.
func (s Secret) LogValue() slog.Value { return slog.StringValue("REDACTED") }

// MarshalText keeps them out of JSON.
func (s Secret) MarshalText() ([]byte, error) { return []byte("REDACTED"), nil }
