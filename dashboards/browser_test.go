package dashboards

import (
	"context"
	"fmt"
	"net/http/httptest"
	"net/url"
	"os"
	"os/exec"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	cdlog "github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	cdruntime "github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// findChromium looks for a browser. Without one the test is skipped, unless LUTED_CI=1 says that there
// must be one.
func findChromium(t *testing.T) string {
	t.Helper()
	if testing.Short() {
		t.Skip("short: not in a browser")
	}
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

// chromium is the one browser of all tests, started by the first that needs it. Every test has a tab of
// its own in it, and pages of its own, as every test has a server of its own.
var chromium struct {
	once  sync.Once
	ctx   context.Context
	close func()
	err   error
}

func TestMain(m *testing.M) {
	code := m.Run()
	if chromium.close != nil {
		chromium.close()
	}
	os.Exit(code)
}

func startChromium(path string) {
	profile, err := os.MkdirTemp("", "luted-chromium-")
	if err != nil {
		chromium.err = err
		return
	}
	opts := []chromedp.ExecAllocatorOption{
		chromedp.NoFirstRun, chromedp.NoDefaultBrowserCheck, chromedp.Headless, chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.ExecPath(path), chromedp.UserDataDir(profile),
	}
	for _, f := range []string{
		"disable-quic", "disable-background-networking", "disable-component-update", "disable-sync", "disable-dev-shm-usage", "hide-scrollbars",
		"disable-background-timer-throttling", "disable-backgrounding-occluded-windows", "disable-renderer-backgrounding",
	} {
		opts = append(opts, chromedp.Flag(f, true))
	}
	alloc, stop := chromedp.NewExecAllocator(context.Background(), opts...)
	ctx, cancel := chromedp.NewContext(alloc)
	chromium.ctx = ctx
	chromium.close = func() {
		cancel()
		stop()
		os.RemoveAll(profile)
	}
	chromium.err = chromedp.Do(ctx)
}

// browser is one tab with everything it complained about or asked another host for.
type browser struct {
	ctx  context.Context
	mu   sync.Mutex
	bad  []string
	host string
	cut  bool // the line is cut on purpose: failing requests are no complaint
}

// openBrowser opens a tab and watches it.
func openBrowser(t *testing.T, server *httptest.Server) *browser {
	t.Helper()
	path := findChromium(t)
	chromium.once.Do(func() { startChromium(path) })
	if chromium.err != nil {
		t.Fatalf("chromium does not start: %v", chromium.err)
	}
	u, err := url.Parse(server.URL)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := chromedp.NewContext(chromium.ctx)
	b := &browser{ctx: ctx, host: u.Host}
	t.Cleanup(func() {
		cancel()
		b.mu.Lock()
		defer b.mu.Unlock()
		for _, what := range b.bad {
			t.Errorf("browser: %s", what)
		}
	})
	if err := chromedp.Listen(ctx, b.watch); err != nil {
		t.Fatalf("no new tab: %v", err)
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
		if e.Entry.Source == cdlog.EntrySourceNetwork && (b.cut || strings.HasSuffix(e.Entry.URL, "/still/"+noStill)) {
			return
		}
		if e.Entry.Level == cdlog.EntryLevelError || e.Entry.Level == cdlog.EntryLevelWarning {
			b.bad = append(b.bad, fmt.Sprintf("%s: %s %s", e.Entry.Level, e.Entry.Text, e.Entry.URL))
		}
	case *network.EventRequestWillBeSent:
		if u, err := url.Parse(e.Request.URL); err != nil || (u.Host != b.host && u.Scheme != "data" && u.Scheme != "about") {
			b.bad = append(b.bad, "request leaves the host: "+e.Request.URL)
		}
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
