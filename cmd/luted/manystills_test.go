package main

import (
	"bufio"
	"context"
	"flag"
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"luted/analysis"
	"luted/collector/simstill"
)

var many = flag.Int("many", 0, "measure the daemon and its page with so many simulated stills (300)")

// ticksPerSecond is USER_HZ, which Linux has kept at 100 for every program that reads /proc (proc(5)).
const ticksPerSecond = 100

// TestManyStills watches many simulated stills over Modbus TCP, each read once a second, with the shop page
// open in a real browser, and prints what share of one core the daemon and the browser take.
func TestManyStills(t *testing.T) {
	if *many == 0 {
		t.Skip("go test ./cmd/luted -run ManyStills -many 300 -v measures it")
	}
	browser, err := exec.LookPath("chromium")
	if err != nil {
		t.Skip("no chromium on the PATH")
	}
	start := time.Now().UTC().Truncate(time.Second)
	var stills []*simstill.Still
	var addresses []string
	for i := range *many {
		st, err := simstill.New(simstill.Options{
			Name: fmt.Sprintf("still-%03d", i), Seed: uint64(i + 1), SiteSeed: 1, AltitudeM: demoAltitudeM,
			Sensors: simstill.Sensors{Set: simstill.Typical, Map: 1, Display: analysis.US},
			Stated:  simstill.Stated{Solvent: "toluene", JacketC: 150, Target: "24 inHg", Within: 10 * time.Minute, AirMin: "4.5 bar"},
		}, start)
		if err != nil {
			t.Fatal(err)
		}
		if i%3 != 0 { // two of three run, begun one after the other
			st.Schedule([]simstill.Step{{At: start.Add(time.Duration(i%40) * time.Second), Batch: &simstill.Batch{Solvent: named("toluene"), JacketC: 150, Litres: 55}}})
		}
		server, err := simstill.Listen("127.0.0.1:0", func() time.Time { return time.Now().UTC() }, st)
		if err != nil {
			t.Fatal(err)
		}
		defer server.Close()
		stills, addresses = append(stills, st), append(addresses, server.Addr())
	}
	port, err := freePort("127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	write(t, filepath.Join(dir, "luted.yaml"), demoYAML(demoState{Display: analysis.US}, stills, addresses, port))
	daemon := exec.Command(build(t), "run", "--config", filepath.Join(dir, "luted.yaml"), "--log-level", "error")
	daemon.Stderr = os.Stderr
	if err := daemon.Start(); err != nil {
		t.Fatal(err)
	}
	defer daemon.Wait()
	defer daemon.Process.Kill()
	page := "http://" + port + "/"
	for range 100 {
		if r, err := http.Get(page + "readyz"); err == nil {
			r.Body.Close()
			break
		}
		time.Sleep(200 * time.Millisecond)
	}
	alloc, stop := chromedp.NewExecAllocator(context.Background(), chromedp.NoFirstRun, chromedp.Headless, chromedp.NoSandbox, chromedp.DisableGPU, chromedp.ExecPath(browser), chromedp.UserDataDir(t.TempDir()))
	defer stop()
	ctx, cancel := chromedp.NewContext(alloc)
	defer cancel()
	if err := chromedp.Do(ctx, chromedp.EmulateViewport(1366, 900), chromedp.Navigate(page)); err != nil {
		t.Fatal(err)
	}
	if _, err := chromedp.Run(ctx, chromedp.Poll[chromedp.Void](fmt.Sprintf(`document.querySelectorAll('article.still').length === %d`, *many), chromedp.WithPollingTimeout(30*time.Second))); err != nil {
		t.Fatal(err)
	}
	time.Sleep(15 * time.Second) // past the start
	const look = 45 * time.Second
	d0, b0 := family(t, daemon.Process.Pid), browserTicks(t, daemon.Process.Pid)
	time.Sleep(look)
	d1, b1 := family(t, daemon.Process.Pid), browserTicks(t, daemon.Process.Pid)
	share := func(a, b int) float64 { return 100 * float64(b-a) / ticksPerSecond / look.Seconds() }
	t.Logf("%d stills read once a second, shop page open: daemon %.1f %% of one core, browser %.1f %%", *many, share(d0, d1), share(b0, b1))
	if d1 == d0 || b1 == b0 {
		t.Error("nothing was measured")
	}
	live, err := chromedp.Run(ctx, chromedp.Evaluate[int](`document.querySelectorAll('article.stale').length`))
	if err != nil || live > 0 {
		t.Errorf("%d stills are shown as old (%v): the page does not keep up", live, err)
	}
}

// family is the processor time of a process, in ticks.
func family(t *testing.T, pid int) int {
	t.Helper()
	b, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	if err != nil {
		t.Fatal(err)
	}
	_, after, _ := strings.Cut(string(b), ") ")
	f := strings.Fields(after) // from field 3 on; utime and stime are 14 and 15 (proc(5))
	u, _ := strconv.Atoi(f[11])
	s, _ := strconv.Atoi(f[12])
	return u + s
}

// browserTicks is the processor time of every process below this one but the daemon.
func browserTicks(t *testing.T, daemon int) int {
	t.Helper()
	sum := 0
	var below func(pid int)
	below = func(pid int) {
		files, _ := filepath.Glob(fmt.Sprintf("/proc/%d/task/*/children", pid))
		for _, file := range files {
			b, err := os.ReadFile(file)
			if err != nil {
				continue
			}
			for words := bufio.NewScanner(strings.NewReader(strings.ReplaceAll(string(b), " ", "\n"))); words.Scan(); {
				if child, err := strconv.Atoi(words.Text()); err == nil && child != daemon {
					sum += family(t, child)
					below(child)
				}
			}
		}
	}
	below(os.Getpid())
	return sum
}
