package dashboards

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	cdpage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// TestScreenshots writes pictures of every page to LUTED_SCREENSHOTS, for people to look at.
func TestScreenshots(t *testing.T) {
	dir := os.Getenv("LUTED_SCREENSHOTS")
	if dir == "" {
		t.Skip("set LUTED_SCREENSHOTS to a directory to have pictures written there")
	}
	srv := serveScene(t)
	srv.tick(t)
	b := openBrowser(t, srv.Server)
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	for _, p := range scenePages {
		for _, w := range screens {
			b.size(t, w.width, w.height, w.scale, w.scheme)
			b.do(t, p.name, chromedp.Navigate("about:blank"), chromedp.Navigate(srv.URL+p.path))
			b.until(t, p.ready)
			b.do(t, "settle", chromedp.Sleep(500*time.Millisecond))
			b.pictures(t, filepath.Join(dir, p.name+"-"+w.name), float64(w.width))
		}
	}
	// Two moments of use: a value read from the trend, and an alarm being shelved.
	b.size(t, 1366, 900, 1, "light")
	b.do(t, "trend", chromedp.Navigate(srv.URL+"/still/north"))
	b.until(t, `document.querySelector('#chart').dataset.drawMs`)
	b.do(t, "point", chromedp.ScrollIntoView(chromedp.CSS("#chart")), chromedp.Focus(chromedp.CSS("#chart")), chromedp.KeyEvent(kb.Home), chromedp.KeyEvent(kb.PageDown), chromedp.KeyEvent(kb.PageDown), chromedp.Sleep(200*time.Millisecond))
	b.pictures(t, filepath.Join(dir, "pointing"), 1366)
	b.do(t, "alarms", chromedp.Navigate(srv.URL+"/alarms"), chromedp.Click(chromedp.CSS("button[data-act^='shelve south']")), chromedp.WaitVisible(chromedp.CSS("dialog[open]")))
	b.pictures(t, filepath.Join(dir, "shelving"), 1366)
	b.do(t, "shop", chromedp.Navigate(srv.URL+"/"))
	b.until(t, allRows)
	b.cutLine(true)
	srv.cut.Store(true)
	srv.CloseClientConnections()
	b.until(t, `!document.querySelector('.lost').hidden`)
	b.pictures(t, filepath.Join(dir, "cut-off"), 1366)
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
