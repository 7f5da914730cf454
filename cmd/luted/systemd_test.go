package main

import (
	"context"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"testing/synctest"
	"time"
)

// TestManagerIsTold: systemd hears READY=1, then WATCHDOG=1, then STOPPING=1 (sd_notify(3)).
func TestManagerIsTold(t *testing.T) {
	path := filepath.Join(t.TempDir(), "notify")
	conn, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: path, Net: "unixgram"})
	if err != nil {
		t.Skip("no datagram sockets here:", err)
	}
	defer conn.Close()
	t.Setenv("NOTIFY_SOCKET", path)
	t.Setenv("WATCHDOG_USEC", "40000")
	t.Setenv("WATCHDOG_PID", strconv.Itoa(os.Getpid()))
	hear := func() string {
		buf := make([]byte, 100)
		_ = conn.SetReadDeadline(time.Now().Add(10 * time.Second))
		n, err := conn.Read(buf)
		if err != nil {
			t.Fatal(err)
		}
		return string(buf[:n])
	}
	ctx, cancel := context.WithCancel(t.Context())
	m := tellManager(ctx, slog.New(slog.DiscardHandler), time.Now)
	if got := hear(); got != "READY=1" {
		t.Errorf("first %q", got)
	}
	if got := hear(); got != "WATCHDOG=1" {
		t.Errorf("then %q", got)
	}
	cancel()
	for got := hear(); got != "STOPPING=1"; got = hear() {
		if got != "WATCHDOG=1" {
			t.Errorf("heard %q", got)
		}
	}
	m.stopped()
}

// TestWatchdogStopsWithThePipeline: when the pipeline stands still, systemd hears nothing more and
// restarts the program.
func TestWatchdogStopsWithThePipeline(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		begin := time.Now()
		stuck := begin.Add(time.Minute)
		beat := func() time.Time {
			if now := time.Now(); now.Before(stuck) {
				return now
			}
			return stuck
		}
		var last time.Time
		n := 0
		ctx, cancel := context.WithTimeout(t.Context(), 5*time.Minute)
		defer cancel()
		watchdog(ctx, 10*time.Second, beat, func() { n++; last = time.Now() })
		if n < 12 || last.Sub(begin) > 70*time.Second {
			t.Errorf("alive %d times, last %v after the start; the pipeline stood still after a minute", n, last.Sub(begin))
		}
	})
}
