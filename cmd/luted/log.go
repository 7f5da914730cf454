package main

import (
	"io"
	"log/slog"
	"os"

	"github.com/mattn/go-isatty"
)

// Keys of the log messages of this package; those of the pipeline are in package collector.
const (
	keyAddress = "address"
	keySignal  = "signal"
	keyErr     = "err"
)

// logFlags are the flags of the commands that log.
type logFlags struct {
	Log      string `help:"How to write the log: text or json (${default})." enum:"text,json" default:"text" placeholder:"FORM"`
	LogLevel string `help:"How much to write: debug, info, warn or error (${default})." enum:"debug,info,warn,error" default:"info" placeholder:"LEVEL"`
}

// logger writes to w. systemd and other collectors stamp lines themselves, but a file does not, so every
// line has its time.
func (f logFlags) logger(w io.Writer) *slog.Logger {
	var level slog.Level
	_ = level.UnmarshalText([]byte(f.LogLevel)) // the flag allows only words it knows
	o := &slog.HandlerOptions{Level: level}
	if f.Log == "json" {
		return slog.New(slog.NewJSONHandler(w, o))
	}
	return slog.New(slog.NewTextHandler(w, o))
}

func isTerminal(f *os.File) bool { return isatty.IsTerminal(f.Fd()) }
