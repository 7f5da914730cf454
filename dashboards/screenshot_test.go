package dashboards

import (
	"bytes"
	"cmp"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"maps"
	"os"
	"path/filepath"
	"slices"
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

// TestPicturesOfReadme makes the pictures in README.md anew, with LUTED_PICTURES=1: the invented shop of the
// tests, at one moment. They are kept small: one picture weighs less than 150 kB.
func TestPicturesOfReadme(t *testing.T) {
	if os.Getenv("LUTED_PICTURES") == "" {
		t.Skip("set LUTED_PICTURES=1 to make the pictures of README.md anew")
	}
	srv := serveScene(t)
	srv.tick(t)
	b := openBrowser(t, srv.Server)
	const most = 150_000
	for _, p := range []struct {
		name, path, ready, scheme string
		width, height             int64
		scale                     float64
	}{
		{"shop", "/", allRows + ` && document.querySelector('.matter button')`, "light", 1280, 900, 1},
		{"still-open-lid", "/still/south", stillReady + ` && document.querySelector('.matter button')`, "light", 1280, 1000, 1},
		{"trend-dark", "/still/north", stillReady, "dark", 1280, 1000, 1},
		{"phone", "/", allRows + ` && document.querySelector('.matter button')`, "light", 390, 844, 1.5},
		{"wall", "/?wall", `document.querySelectorAll('.tile').length === 5`, "dark", 1280, 720, 1},
	} {
		b.size(t, p.width, p.height, p.scale, p.scheme)
		b.do(t, p.name, chromedp.Navigate("about:blank"), chromedp.Navigate(srv.URL+p.path))
		b.until(t, p.ready)
		b.do(t, "settle", chromedp.Sleep(700*time.Millisecond))
		got := call(t, b, cdpage.CaptureScreenshot, cdpage.CaptureScreenshotParams{})
		small := fewColours(t, got.Data)
		if len(small) > most {
			t.Errorf("%s weighs %d bytes, want at most %d", p.name, len(small), most)
		}
		if err := os.WriteFile(filepath.Join("pictures", p.name+".png"), small, 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// fewColours writes a picture with the 256 colours that occur most in it, each other one as the nearest of
// them: a page that is mostly grey loses nothing that can be seen.
func fewColours(t *testing.T, data []byte) []byte {
	t.Helper()
	from, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	count := map[color.RGBA]int{}
	at := func(x, y int) color.RGBA { return color.RGBAModel.Convert(from.At(x, y)).(color.RGBA) }
	size := from.Bounds()
	for y := size.Min.Y; y < size.Max.Y; y++ {
		for x := size.Min.X; x < size.Max.X; x++ {
			count[at(x, y)]++
		}
	}
	most := slices.SortedFunc(maps.Keys(count), func(a, b color.RGBA) int {
		return cmp.Or(count[b]-count[a], int(a.R)-int(b.R), int(a.G)-int(b.G), int(a.B)-int(b.B))
	})
	palette := color.Palette{}
	for _, c := range most[:min(256, len(most))] {
		palette = append(palette, c)
	}
	index := map[color.RGBA]uint8{}
	for c := range count {
		index[c] = uint8(palette.Index(c))
	}
	to := image.NewPaletted(size, palette)
	for y := size.Min.Y; y < size.Max.Y; y++ {
		for x := size.Min.X; x < size.Max.X; x++ {
			to.SetColorIndex(x, y, index[at(x, y)])
		}
	}
	var out bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&out, to); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}
