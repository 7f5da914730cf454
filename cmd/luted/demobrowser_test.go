package main

import (
	"bufio"
	"context"
	"io"
	"os"
	"os/exec"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// TestOpenLidInTheBrowser watches the demo as a person would: the run of south begins on the page, its
// alarm appears with its cause, is acknowledged with a name, and shelved with a reason; all of it by keys.
func TestOpenLidInTheBrowser(t *testing.T) {
	if testing.Short() {
		t.Skip("short: not in a browser")
	}
	browser, err := exec.LookPath("chromium")
	if err != nil {
		if os.Getenv("LUTED_CI") == "1" {
			t.Fatal("no chromium on the PATH, and LUTED_CI=1 requires it")
		}
		t.Skip("no chromium on the PATH: install it to watch the demo in a browser")
	}
	ctx, cancel := context.WithTimeout(t.Context(), 2*time.Minute)
	defer cancel()
	in, out := io.Pipe()
	var log strings.Builder
	var wg sync.WaitGroup
	wg.Go(func() {
		if code := execute(ctx, []string{"demo", "--dir", t.TempDir(), "--listen", "127.0.0.1:0", "--history", "0 d", "--speed", "30"},
			streams{in: strings.NewReader(""), out: out, err: &log}); code != exitDone {
			t.Errorf("exit code %d: %s", code, log.String())
		}
		out.Close()
	})
	defer wg.Wait()
	defer cancel()
	page := ""
	lines := bufio.NewScanner(in)
	for page == "" && lines.Scan() {
		if rest, ok := strings.CutPrefix(lines.Text(), "Page: "); ok {
			page, _, _ = strings.Cut(rest, " ")
		}
	}
	go io.Copy(io.Discard, in)
	profile := t.TempDir()
	alloc, stop := chromedp.NewExecAllocator(context.Background(), chromedp.NoFirstRun, chromedp.Headless, chromedp.NoSandbox, chromedp.DisableGPU, chromedp.ExecPath(browser), chromedp.UserDataDir(profile))
	defer stop()
	tab, end := chromedp.NewContext(alloc)
	defer end()
	if err := chromedp.Do(tab); err != nil { // the browser lives as long as the context it is started with
		t.Fatal(err)
	}
	do := func(what string, steps ...chromedp.Action[chromedp.Void]) {
		t.Helper()
		c, cancel := context.WithTimeout(tab, 30*time.Second)
		defer cancel()
		if err := chromedp.Do(c, steps...); err != nil {
			t.Fatalf("%s: %v", what, err)
		}
	}
	until := func(expr string) {
		t.Helper()
		if _, err := chromedp.Run(tab, chromedp.Poll[chromedp.Void](expr, chromedp.WithPollingTimeout(40*time.Second))); err != nil {
			words, _ := chromedp.Run(tab, chromedp.Evaluate[string](`document.body.innerText.slice(0, 1500)`))
			t.Fatalf("never true: %s: %v\n%s", expr, err, words)
		}
	}
	do("open", chromedp.EmulateViewport(1366, 900), chromedp.Navigate(page), chromedp.WaitVisible(chromedp.CSS("article.still")))
	south := `[...document.querySelectorAll('article.still')].find((e) => e.getAttribute('aria-labelledby') === 'still-south')`
	until(south + `?.innerText.includes('Pump-down')`)
	until(south + `?.querySelector('.matter[data-fault=vacuum-not-pulled].fresh')`)
	until(south + `.innerText.includes('Open to air: lid gasket, lever or drain valve')`)
	until(`document.querySelector('#headline').textContent.includes('south needs a person')`)
	press := func(act string) {
		do(act, chromedp.Focus(chromedp.CSS("article.still button[data-act^='"+act+" south vacuum-not-pulled']")), chromedp.KeyEvent(kb.Enter), chromedp.WaitVisible(chromedp.CSS("dialog[open] input")))
	}
	press("acknowledge")
	do("name", chromedp.SendKeys(chromedp.CSS("dialog[open] input:focus"), "R. Okafor"+kb.Enter))
	until(`!document.querySelector('dialog') && ` + south + `.querySelector('.matter[data-fault=vacuum-not-pulled].known')?.innerText.includes('by R. Okafor')`)
	press("shelve")
	do("why", chromedp.SendKeys(chromedp.CSS("dialog[open] input[required]"), "lid is being locked"+kb.Enter))
	until(`!document.querySelector('dialog') && ` + south + `.querySelector('.matter[data-fault=vacuum-not-pulled].quiet')?.innerText.includes('lid is being locked')`)
	if body := fetch(t, page+"api/alarms"); !strings.Contains(body, `"shelved"`) || !strings.Contains(body, "lid is being locked") {
		t.Errorf("the daemon does not know: %s", body)
	}
}
