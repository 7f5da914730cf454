package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"
)

// build builds the program under test.
func build(t *testing.T) string {
	t.Helper()
	bin := filepath.Join(t.TempDir(), "luted")
	if out, err := exec.Command("go", "build", "-o", bin, ".").CombinedOutput(); err != nil {
		t.Fatalf("go build: %v\n%s", err, out)
	}
	return bin
}

// command runs the program to its end and returns what it printed.
func command(t *testing.T, bin string, args ...string) []byte {
	t.Helper()
	var stderr bytes.Buffer
	cmd := exec.CommandContext(t.Context(), bin, args...)
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("luted %v: %v\n%s", args, err, stderr.String())
	}
	return out
}

// child is a running demo.
type child struct {
	cmd *exec.Cmd

	mu    sync.Mutex
	log   strings.Builder
	from  time.Time // simulated time at
	since time.Time // this real time; zero: watching has not begun
	done  sync.WaitGroup
}

func startDemo(t *testing.T, bin, dir string) *child {
	t.Helper()
	c := &child{}
	c.cmd = exec.CommandContext(context.WithoutCancel(t.Context()), bin, "demo", "--dir", dir, "--listen", "127.0.0.1:0",
		"--history", "2 d", "--speed", strconv.Itoa(killSpeed), "--log", "json", "--log-level", "info")
	stderr, err := c.cmd.StderrPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := c.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = c.cmd.Process.Kill() })
	c.done.Go(func() { // ends with the child
		for lines := bufio.NewScanner(stderr); lines.Scan(); {
			c.line(lines.Bytes())
		}
	})
	return c
}

func (c *child) line(b []byte) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.log.Write(append(b, '\n'))
	var m struct {
		Time time.Time `json:"time"`
		Msg  string    `json:"msg"`
		From time.Time `json:"from"`
	}
	if json.Unmarshal(b, &m) == nil && m.Msg == "clock" {
		c.from, c.since = m.From, m.Time
	}
}

// clockAt is the child's simulated time at a real time.
func (c *child) clockAt(at time.Time) (time.Time, bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.since.IsZero() {
		return time.Time{}, false
	}
	return c.from.Add(at.Sub(c.since) * killSpeed), true
}

// awaitWatching waits until the child watches, however long the machine takes over it.
func (c *child) awaitWatching(t *testing.T) {
	t.Helper()
	for deadline := time.Now().Add(2 * time.Minute); time.Now().Before(deadline); time.Sleep(5 * time.Millisecond) {
		if _, ok := c.clockAt(time.Now()); ok {
			return
		}
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	t.Fatalf("the demo does not begin to watch:\n%s", c.log.String())
}

// kill ends the child as a power cut would end the program, and returns when.
func (c *child) kill(t *testing.T) time.Time {
	t.Helper()
	at := time.Now()
	_ = c.cmd.Process.Kill()
	c.done.Wait()
	_ = c.cmd.Wait()
	if c.cmd.ProcessState.Exited() {
		t.Fatalf("the demo had ended by itself: %v\n%s", c.cmd.ProcessState, c.log.String())
	}
	return at
}

// terminate ends it as an operator would, and expects it to end well.
func (c *child) terminate(t *testing.T) {
	t.Helper()
	if err := c.cmd.Process.Signal(os.Interrupt); err != nil {
		t.Fatal(err)
	}
	c.done.Wait()
	if err := c.cmd.Wait(); err != nil {
		t.Errorf("interrupted: %v\n%s", err, c.log.String())
	}
}
