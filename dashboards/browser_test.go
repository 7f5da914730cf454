package dashboards

import (
	"context"
	"fmt"
	"net/http/httptest"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	cdlog "github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	cdpage "github.com/chromedp/cdproto/page"
	cdruntime "github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// findChromium looks for a browser. Without one the test is skipped, unless LUTED_CI=1 says that there
// must be one.
func findChromium(t *testing.T) string {
	t.Helper()
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome", "chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	if os.Getenv("LUTED_CI") == "1" {
		t.Fatal("no chromium on the PATH, and LUTED_CI=1 requires it")
	}
	t.Skip("no chromium on the PATH: install it to test the page in a browser")
	return ""
}

// browser is one headless Chromium with everything it complained about or asked another host for.
type browser struct {
	ctx      context.Context
	mu       sync.Mutex
	bad      []string
	host     string
	requests int
}

// openBrowser starts a browser with a profile of its own and watches it.
func openBrowser(t *testing.T, server *httptest.Server) *browser {
	t.Helper()
	path := findChromium(t)
	u, err := url.Parse(server.URL)
	if err != nil {
		t.Fatal(err)
	}
	b := &browser{host: u.Host}
	opts := append([]chromedp.ExecAllocatorOption{}, chromedp.NoFirstRun, chromedp.NoDefaultBrowserCheck, chromedp.Headless, chromedp.NoSandbox,
		chromedp.DisableGPU, chromedp.ExecPath(path), chromedp.UserDataDir(t.TempDir()),
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true), chromedp.Flag("disable-dev-shm-usage", true),
		chromedp.Flag("hide-scrollbars", true))
	alloc, stop := chromedp.NewExecAllocator(t.Context(), opts...)
	ctx, cancel := chromedp.NewContext(alloc)
	t.Cleanup(func() {
		cancel()
		stop()
		b.mu.Lock()
		defer b.mu.Unlock()
		for _, what := range b.bad {
			t.Errorf("browser: %s", what)
		}
	})
	b.ctx = ctx
	if err := chromedp.Do(ctx); err != nil {
		t.Fatalf("chromium does not start: %v", err)
	}
	if err := chromedp.Listen(ctx, b.watch); err != nil {
		t.Fatal(err)
	}
	call(t, b, network.Enable, network.EnableParams{})
	call(t, b, cdlog.Enable, cdp.Empty{})
	return b
}

// call sends one command of the protocol.
func call[P, R any](t *testing.T, b *browser, cmd cdp.Command[P, R], p P) R {
	t.Helper()
	r, err := chromedp.Call(b.ctx, cmd, p)
	if err != nil {
		t.Fatalf("%s: %v", cmd.Method, err)
	}
	return r
}

func (b *browser) watch(ev any) {
	b.mu.Lock()
	defer b.mu.Unlock()
	switch e := ev.(type) {
	case *cdruntime.EventConsoleAPICalled:
		if e.Type == cdruntime.ConsoleAPICalledTypeError || e.Type == cdruntime.ConsoleAPICalledTypeWarning {
			var words []string
			for _, a := range e.Args {
				words = append(words, string(a.Value)+a.Description)
			}
			b.bad = append(b.bad, fmt.Sprintf("console %s: %s", e.Type, strings.Join(words, " ")))
		}
	case *cdruntime.EventExceptionThrown:
		d := e.ExceptionDetails
		what := d.Text
		if d.Exception != nil {
			what += " " + d.Exception.Description
		}
		b.bad = append(b.bad, fmt.Sprintf("exception: %s (%s:%d)", what, d.URL, d.LineNumber+1))
	case *cdlog.EventEntryAdded:
		if e.Entry.Level == cdlog.EntryLevelError || e.Entry.Level == cdlog.EntryLevelWarning {
			b.bad = append(b.bad, fmt.Sprintf("%s: %s %s", e.Entry.Level, e.Entry.Text, e.Entry.URL))
		}
	case *network.EventRequestWillBeSent:
		if u, err := url.Parse(e.Request.URL); err != nil || (u.Host != b.host && u.Scheme != "data" && u.Scheme != "about") {
			b.bad = append(b.bad, "request leaves the host: "+e.Request.URL)
		}
		b.requests++
	}
}

// do runs steps within a time that is long even for a busy machine.
func (b *browser) do(t *testing.T, what string, steps ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, 30*time.Second)
	defer cancel()
	if err := chromedp.Do(ctx, steps...); err != nil {
		t.Fatalf("%s: %v\n%s", what, err, b.text())
	}
}

// eval returns the value of a JavaScript expression.
func eval[T any](t *testing.T, b *browser, expr string) T {
	t.Helper()
	v, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](expr, chromedp.EvalAwaitPromise))
	if err != nil {
		t.Fatalf("%s: %v", expr, err)
	}
	return v
}

// until waits for a JavaScript expression to be true.
func (b *browser) until(t *testing.T, expr string) {
	t.Helper()
	_, err := chromedp.Run(b.ctx, chromedp.Poll[chromedp.Void](expr, chromedp.WithPollingTimeout(15*time.Second), chromedp.WithPollingInterval(50*time.Millisecond)))
	if err != nil {
		t.Fatalf("never true: %s: %v\nthe page says:\n%s", expr, err, b.text())
	}
}

// text is what the page shows, for messages.
func (b *browser) text() string {
	s, _ := chromedp.Run(b.ctx, chromedp.Evaluate[string](`document.body.innerText.slice(0, 2000)`))
	return s
}

// serveScene mounts the scene on a real listener whose clock moves on from sceneNow.
func serveScene(t *testing.T) (*httptest.Server, *fakeShop) {
	t.Helper()
	shop, arch := newScene()
	o := sceneOptions(shop, arch)
	began := time.Now()
	o.Now = func() time.Time { return sceneNow.Add(time.Since(began)) }
	done := make(chan struct{})
	o.Done = done
	srv := httptest.NewServer(newHandler(t, o))
	t.Cleanup(func() { close(done); srv.Close() })
	return srv, shop
}

// tick hands every running still a fresh reading, so that nothing is old.
func tick(shop *fakeShop, now time.Time) {
	for _, name := range []string{"north", "south", "east", "west", "yard"} {
		shop.set(name, func(v *StillView) { v.Scan.At = now; v.Status.At = now })
	}
}

var widths = []struct {
	name          string
	width, height int64
	dark          bool
	scale         float64
}{
	{"laptop", 1366, 900, false, 1},
	{"laptop-dark", 1366, 900, true, 1},
	{"phone", 390, 844, false, 1.5},
	{"phone-dark", 390, 844, true, 1.5},
}

// TestScreenshots writes pictures of every page to LUTED_SCREENSHOTS, for people to look at.
func TestScreenshots(t *testing.T) {
	dir := os.Getenv("LUTED_SCREENSHOTS")
	if dir == "" {
		t.Skip("set LUTED_SCREENSHOTS to a directory to have pictures written there")
	}
	srv, shop := serveScene(t)
	b := openBrowser(t, srv)
	for _, p := range []struct{ name, path, ready string }{
		{"shop", "/", `document.querySelectorAll('article.still').length === 5`},
		{"still-north", "/still/north", `document.querySelectorAll('#chart canvas').length > 3 && document.querySelectorAll('#runs tbody tr').length > 0`},
		{"still-south", "/still/south", `document.querySelectorAll('#chart canvas').length > 2`},
		{"still-east-24h", "/still/east#24h", `document.querySelectorAll('#chart canvas').length > 2`},
		{"alarms", "/alarms", `document.querySelectorAll('.matter').length > 1 && document.querySelectorAll('#recent tbody tr').length > 1`},
	} {
		for _, w := range widths {
			scheme := "light"
			if w.dark {
				scheme = "dark"
			}
			b.size(t, w.width, w.height, w.scale, scheme)
			b.do(t, p.name, chromedp.Navigate("about:blank"), chromedp.Navigate(srv.URL+p.path))
			b.until(t, p.ready)
			tick(shop, sceneNow.Add(time.Second))
			b.do(t, "settle", chromedp.Sleep(500*time.Millisecond))
			b.pictures(t, filepath.Join(dir, p.name+"-"+w.name), float64(w.width))
		}
	}
}

// pictures writes the whole page in pieces that a person can look at.
func (b *browser) pictures(t *testing.T, name string, width float64) {
	t.Helper()
	const piece = 1700
	height := eval[float64](t, b, `document.documentElement.scrollHeight`)
	beyond := true
	for i, y := 1, 0.0; y < height; i, y = i+1, y+piece {
		got := call(t, b, cdpage.CaptureScreenshot, cdpage.CaptureScreenshotParams{
			CaptureBeyondViewport: &beyond, Clip: &cdpage.Viewport{Y: y, Width: width, Height: min(height-y, piece), Scale: 1},
		})
		if err := os.WriteFile(fmt.Sprintf("%s-%d.png", name, i), got.Data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// size makes the browser a screen of some size, light or dark.
func (b *browser) size(t *testing.T, width, height int64, scale float64, scheme string) {
	t.Helper()
	call(t, b, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
	call(t, b, emulation.SetDeviceMetricsOverride, emulation.SetDeviceMetricsOverrideParams{Width: width, Height: height, DeviceScaleFactor: scale, Mobile: width < 500})
}
