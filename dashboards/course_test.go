package dashboards

import (
	"bytes"
	"encoding/base64"
	"encoding/xml"
	"errors"
	"fmt"
	"image/png"
	"io"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"luted/analysis"
)

// showsStretch waits for the address of a still's page to name a stretch of time within two minutes of the given
// one. The address is written whenever the hand rests, so a slow machine names stretches on the way as well.
func showsStretch(t *testing.T, b *browser, what, from, to string) {
	t.Helper()
	near := fmt.Sprintf(`(() => { const [a, z] = location.hash.slice(1).split('/').map(Date.parse);
		return Math.abs(a - Date.parse('%s')) < 120e3 && Math.abs(z - Date.parse('%s')) < 120e3; })()`, from, to)
	_, err := chromedp.Run(b.ctx, chromedp.Poll[chromedp.Void](near, chromedp.WithPollingTimeout(15*time.Second), chromedp.WithPollingInterval(50*time.Millisecond)))
	if err != nil {
		t.Fatalf("%s: shows %s, want #%s/%s: %v", what, eval[string](t, b, `location.hash`), from, to, err)
	}
}

// TestTrendMoves: the picture is zoomed and moved with the wheel, the mouse, two fingers, the keyboard and
// the buttons; what is shown stands in the address, and 0 leads back.
func TestTrendMoves(t *testing.T) {
	t.Parallel()
	s := serveScene(t)
	s.tick(t)
	b := openBrowser(t, s.Server)
	b.size(t, 1366, 900, 1, "light")
	open := func(hash string) {
		b.do(t, "open", chromedp.Navigate("about:blank"), chromedp.Navigate(s.URL+"/still/north"+hash))
		b.until(t, stillReady)
		b.do(t, "see", chromedp.ScrollIntoView(chromedp.CSS("#chart")))
	}
	const held = "#2026-03-02T08:00:00Z/2026-03-02T12:00:00Z"
	box := struct{ X, Y, W float64 }{}
	where := func() {
		box = eval[struct{ X, Y, W float64 }](t, b, `(() => { const c = document.querySelectorAll('#chart canvas')[1]; c.scrollIntoView({ block: 'center' }); const r = c.getBoundingClientRect(); return { X: r.left + 52, Y: r.top + r.height / 2, W: r.width - 62 }; })()`)
	}
	open(held)
	b.until(t, has("#shown", "02:00 to 06:00"))
	where()
	call(t, b, input.DispatchMouseEvent, input.DispatchMouseEventParams{Type: input.DispatchMouseEventTypeMouseWheel, X: box.X + box.W/2, Y: box.Y, DeltaX: 0.01, DeltaY: -250, Modifiers: 2})
	showsStretch(t, b, "wheel, e^-0.5 of 4 h about 10:00", "2026-03-02T08:47:00Z", "2026-03-02T11:13:00Z")

	open(held)
	where()
	mouse := func(kind input.DispatchMouseEventType, share float64) {
		call(t, b, input.DispatchMouseEvent, input.DispatchMouseEventParams{Type: kind, X: box.X + share*box.W, Y: box.Y, Button: "left", Buttons: 1, ClickCount: 1})
	}
	mouse("mousePressed", 0.75)
	mouse("mouseMoved", 0.5)
	mouse("mouseReleased", 0.5)
	showsStretch(t, b, "dragged a quarter to the left", "2026-03-02T09:00:00Z", "2026-03-02T13:00:00Z")

	open(held)
	b.do(t, "keys", chromedp.Focus(chromedp.CSS("#chart")), chromedp.KeyEvent("+"))
	b.until(t, has("#shown", "03:00 to 05:00"))
	b.do(t, "keys", chromedp.KeyEvent("-"), chromedp.KeyEvent("-"))
	b.until(t, has("#shown", "00:00 to 08:00"))
	b.do(t, "keys", chromedp.KeyEvent(kb.Home))
	b.until(t, `document.querySelector('#chart').getAttribute('aria-valuenow') === '0'`)
	b.do(t, "at the edge", chromedp.KeyEvent(kb.ArrowLeft))
	b.until(t, has("#shown", "Sun 1 Mar 22:00 to 06:00"))
	b.do(t, "back", chromedp.KeyEvent("0"))
	b.until(t, `location.hash === '#run'`)

	open(held)
	b.do(t, "buttons", chromedp.Click(chromedp.CSS("#moves [aria-label='Zoom in']")))
	b.until(t, has("#shown", "03:00 to 05:00"))
	b.do(t, "buttons", chromedp.Click(chromedp.CSS("#moves button:first-child")))
	b.until(t, has("#shown", "02:00 to 04:00"))

	b.size(t, 390, 844, 1, "light")
	call(t, b, emulation.SetTouchEmulationEnabled, emulation.SetTouchEmulationEnabledParams{Enabled: true, MaxTouchPoints: 2})
	open(held)
	where()
	touch := func(kind input.DispatchTouchEventType, shares ...float64) {
		points := []*input.TouchPoint{}
		for i, share := range shares {
			id := float64(i + 1)
			points = append(points, &input.TouchPoint{X: box.X + share*box.W, Y: box.Y, ID: &id})
		}
		call(t, b, input.DispatchTouchEvent, input.DispatchTouchEventParams{Type: kind, TouchPoints: points})
	}
	touch("touchStart", 0.4, 0.6)
	touch("touchMove", 0.35, 0.65)
	touch("touchMove", 0.3, 0.7)
	touch("touchEnd")
	showsStretch(t, b, "pinch to half of 4 h about 10:00", "2026-03-02T09:00:00Z", "2026-03-02T11:00:00Z")
}

// TestLastGoodRunUnder: the last good run lies under the present one from its start, with its value at the
// same moment; it can be taken away.
func TestLastGoodRunUnder(t *testing.T) {
	t.Parallel()
	s := serveScene(t)
	s.tick(t)
	b := openBrowser(t, s.Server)
	b.size(t, 1366, 900, 1, "light")
	b.do(t, "open", chromedp.Navigate(s.URL+"/still/north"))
	b.until(t, has("#under", "Last good run (40) under it"))
	// Both runs of the scene follow the same course, so their oil is as warm at the same moment.
	value := func(words string) string {
		return `[...document.querySelectorAll('.legend > div')].find((d) => d.firstChild.textContent === '` + words + `')?.lastChild.textContent`
	}
	b.until(t, value("run 40, last good")+` === `+value("oil")+` && !!`+value("oil"))
	b.do(t, "away", chromedp.Click(chromedp.CSS("#under input")))
	b.until(t, value("run 40, last good")+` === undefined`)
	b.do(t, "a still with one run", chromedp.Navigate(s.URL+"/still/yard"))
	b.until(t, has("#under", "No good run before it to lay under it"))
}

// TestPictures: what is shown can be taken along, as PNG and as SVG that any program reads, with its still,
// its time and its values written on it.
func TestPictures(t *testing.T) {
	t.Parallel()
	s := serveScene(t)
	s.tick(t)
	b := openBrowser(t, s.Server)
	b.size(t, 1366, 900, 1, "light")
	b.do(t, "open", chromedp.Navigate(s.URL+"/still/south"))
	b.until(t, stillReady)
	// The file goes to where the test can read it instead of to the disk.
	eval[bool](t, b, `(() => { URL.createObjectURL = (blob) => { window.taken = blob; return 'data:,'; }; HTMLAnchorElement.prototype.click = function () { window.named = this.download; }; return true; })()`)
	take := func(id string) (name string, data []byte) {
		eval[bool](t, b, `(window.taken = null, document.getElementById('`+id+`').dispatchEvent(new MouseEvent('click')))`)
		b.until(t, `window.taken`)
		got := eval[string](t, b, `new Promise((done) => { const r = new FileReader(); r.onload = () => done(r.result.split(',')[1]); r.readAsDataURL(window.taken); })`)
		data, err := base64.StdEncoding.DecodeString(got)
		if err != nil {
			t.Fatal(err)
		}
		return eval[string](t, b, `window.named`), data
	}
	name, drawing := take("svg")
	if name != "south-2026-03-02.svg" {
		t.Errorf("named %s", name)
	}
	var words strings.Builder
	paths := 0
	for d := xml.NewDecoder(bytes.NewReader(drawing)); ; {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatalf("not well-formed: %v", err)
		}
		switch tok := tok.(type) {
		case xml.StartElement:
			if tok.Name.Local == "path" {
				paths++
			}
		case xml.CharData:
			words.Write(tok)
			words.WriteByte('|')
		}
	}
	for _, want := range []string{"south, Quay Lane finishing shop", "Pressure, inHg abs", "|target|", "|pump-down|", "America/Chicago", simulatedNotice} {
		if !strings.Contains(words.String(), want) {
			t.Errorf("the drawing does not say %q:\n%s", want, words.String())
		}
	}
	if paths < 40 || bytes.Contains(drawing, []byte("NaN")) || bytes.Contains(drawing, []byte("undefined")) {
		t.Errorf("%d lines in the drawing, or numbers that are none", paths)
	}
	name, picture := take("png")
	img, err := png.Decode(bytes.NewReader(picture))
	if err != nil || name != "south-2026-03-02.png" {
		t.Fatalf("%s: %v", name, err)
	}
	if img.Bounds().Dx() != 2400 || img.Bounds().Dy() < 1000 {
		t.Errorf("the picture is %v large", img.Bounds())
	}
	seen := map[any]bool{}
	for x := 0; x < 2400; x += 7 {
		for y := 0; y < img.Bounds().Dy(); y += 7 {
			seen[img.At(x, y)] = true
		}
	}
	if len(seen) < 10 {
		t.Errorf("%d colours in the picture: it is empty", len(seen))
	}
}

// TestMinuteCutOff: the line is gone for a minute of the scene's clock, in which readings and entries go on.
// Afterwards every entry has been told once, in order, and the trend is drawn through the minute without a
// hole.
func TestMinuteCutOff(t *testing.T) {
	t.Parallel()
	s := serveScene(t)
	arch := s.shop.archive
	read := func(at time.Time) { // north is read once
		arch.mu.Lock()
		scans := arch.scans["north"]
		sc := scanAt(goodRun(sceneNow.Add(-162*time.Minute)), stamp(at))
		arch.scans["north"] = append(scans[:len(scans):len(scans)], sc)
		arch.mu.Unlock()
		s.shop.set("north", func(v *StillView) { v.Scan, v.Status.At = sc, sc.At })
	}
	b := openBrowser(t, s.Server)
	b.size(t, 1366, 900, 1, "light")
	b.do(t, "open", chromedp.Navigate(s.URL+"/still/north#10min"))
	b.until(t, stillReady)
	eval[bool](t, b, `import('/web/live.js').then((l) => { window.told = []; l.onEntry((e) => told.push(e.seq)); return true; })`)
	read(s.now())
	first, _ := arch.LastSeq(t.Context())
	b.cutLine(true)
	s.cut.Store(true)
	s.CloseClientConnections()
	b.until(t, `!document.querySelector('.lost').hidden`)
	for i := range 12 {
		s.skip.Add(int64(5 * time.Second))
		read(s.now())
		if i%4 == 0 {
			arch.add("note", s.now(), "north", 41, map[string]string{"by": "M", "text": "x"})
		}
	}
	s.cut.Store(false)
	b.until(t, `document.querySelector('.lost').hidden && told.length >= 3`)
	s.shop.raise("north", analysis.StandingFault{Fault: analysis.CondenserWarm, Since: s.now(), Run: 41, Text: "Condenser too warm."})
	last, _ := arch.LastSeq(t.Context())
	b.until(t, fmt.Sprintf(`told.at(-1) === %d`, last))
	want := []int64{}
	for seq := first + 1; seq <= last; seq++ {
		want = append(want, seq)
	}
	if got := eval[[]int64](t, b, `told`); !slices.Equal(got, want) {
		t.Errorf("told of entries %v, want each of %v once", got, want)
	}
	// The line of the distillate, in its own colour, crosses every column of the picture in the last 100 s.
	b.until(t, `(() => {
		const c = document.querySelectorAll('#chart canvas')[5], w = c.width - 62;
		const copy = new OffscreenCanvas(c.width, c.height).getContext('2d', { willReadFrequently: true });
		copy.drawImage(c, 0, 0);
		const hue = getComputedStyle(document.documentElement).getPropertyValue('--vapor').trim().match(/\w\w/g).map((x) => parseInt(x, 16));
		for (let x = Math.round(52 + w * (500 / 600)); x < 52 + w * (585 / 600); x++) {
			const d = copy.getImageData(x, 0, 1, c.height).data;
			let there = false;
			for (let i = 0; i < d.length; i += 4) there ||= hue.every((h, j) => Math.abs(d[i + j] - h) < 60) && d[i + 3] > 60;
			if (!there) return false;
		}
		return true;
	})()`)
}
