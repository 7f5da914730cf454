package dashboards

import (
	"context"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
)

func recorderFor(h http.Handler, r *http.Request) *httptest.ResponseRecorder {
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

// TestHeaders: nothing on a page may come from elsewhere or run that is not its own file.
func TestHeaders(t *testing.T) {
	h := newHandler(t, sceneOptions(newScene()))
	for _, target := range []string{"/", "/still/north", "/alarms", "/web/style.css", "/api/stills", "/nosuch"} {
		res := get(h, target)
		csp := res.Header().Get("Content-Security-Policy")
		if !strings.HasPrefix(csp, "default-src 'self';") || strings.Contains(csp, "unsafe") || strings.Contains(csp, "http") {
			t.Errorf("%s: policy %q", target, csp)
		}
		for k, want := range map[string]string{"X-Content-Type-Options": "nosniff", "Referrer-Policy": "no-referrer", "Cross-Origin-Resource-Policy": "same-origin"} {
			if got := res.Header().Get(k); got != want {
				t.Errorf("%s: %s is %q, want %q", target, k, got, want)
			}
		}
	}
}

// TestHosts: a server on this machine only answers to this machine's names, so that no page elsewhere can
// point a name of its own here and read along (DNS rebinding).
func TestHosts(t *testing.T) {
	v := newValidator(t)
	o := sceneOptions(newScene())
	o.Hosts = []string{"stills.quaylane.example"}
	h := newHandler(t, o)
	loop := &net.TCPAddr{IP: net.IPv4(127, 0, 0, 1), Port: 8080}
	lan := &net.TCPAddr{IP: net.IPv4(10, 20, 0, 9), Port: 8080}
	for _, tt := range []struct {
		host  string
		local net.Addr
		ok    bool
	}{
		{"localhost:8080", loop, true}, {"127.0.0.1:8080", loop, true}, {"[::1]:8080", loop, true}, {"127.0.0.2", loop, true},
		{"LOCALHOST", loop, true}, {"luted.localhost:8080", loop, true}, {"localhost.:8080", loop, true},
		{"stills.quaylane.example", loop, true}, {"Stills.Quaylane.Example:443", loop, true},
		{"evil.example", loop, false}, {"evil.example:8080", loop, false}, {"10.20.0.9", loop, false}, {"", loop, false},
		{"localhost.evil.example", loop, false}, {"notlocalhost", loop, false},
		{"evil.example", lan, true}, {"10.20.0.9:8080", lan, true},
		{"localhost", &net.TCPAddr{IP: net.IPv6loopback}, true}, {"evil.example", &net.TCPAddr{IP: net.IPv6loopback}, false},
	} {
		r := request("GET", "/api/alarms", nil)
		r.Host = tt.host
		r = r.WithContext(context.WithValue(r.Context(), http.LocalAddrContextKey, tt.local))
		res := recorderFor(h, r)
		if tt.ok != (res.Code == http.StatusOK) {
			t.Errorf("host %q at %s: %d", tt.host, tt.local, res.Code)
		}
		if !tt.ok {
			checkProblem(t, v, res.Header(), res.Body.Bytes(), http.StatusMisdirectedRequest, "listens on its own machine only")
		}
	}
}

// TestCrossSite: another site's page cannot make a browser change anything.
func TestCrossSite(t *testing.T) {
	v := newValidator(t)
	body := `{"still":"south","fault":"vacuum-not-pulled","by":"M"}`
	for _, tt := range []struct {
		name   string
		header http.Header
		ok     bool
	}{
		{"same origin", http.Header{"Sec-Fetch-Site": {"same-origin"}}, true},
		{"no browser", http.Header{}, true},
		{"other site", http.Header{"Sec-Fetch-Site": {"cross-site"}}, false},
		{"other subdomain", http.Header{"Sec-Fetch-Site": {"same-site"}}, false},
		{"old browser, other origin", http.Header{"Origin": {"https://evil.example"}}, false},
		{"old browser, same origin", http.Header{"Origin": {"http://example.com"}}, true},
	} {
		t.Run(tt.name, func(t *testing.T) {
			shop, arch := newScene()
			r := request("POST", "http://example.com/api/alarms/acknowledge", strings.NewReader(body))
			r.Header = tt.header.Clone()
			r.Header.Set("Content-Type", "application/json")
			seq, _ := arch.LastSeq(t.Context())
			res := recorderFor(newHandler(t, sceneOptions(shop, arch)), r)
			if tt.ok != (res.Code == http.StatusOK) {
				t.Errorf("%d %s", res.Code, res.Body)
			}
			if now, _ := arch.LastSeq(t.Context()); !tt.ok && now != seq {
				t.Error("refused, and yet done")
			}
			if !tt.ok {
				checkProblem(t, v, res.Header(), res.Body.Bytes(), http.StatusForbidden, "Another site")
			}
		})
	}
}

func TestLimits(t *testing.T) {
	var s http.Server
	SetLimits(&s)
	if s.ReadHeaderTimeout == 0 || s.ReadTimeout == 0 || s.WriteTimeout == 0 || s.IdleTimeout == 0 || s.MaxHeaderBytes == 0 {
		t.Errorf("a limit is missing: %+v", &s)
	}
	own := http.Server{WriteTimeout: 1}
	if SetLimits(&own); own.WriteTimeout != 1 {
		t.Error("a limit that was set was changed")
	}
}

func TestMetricsMounted(t *testing.T) {
	o := sceneOptions(newScene())
	if res := get(newHandler(t, o), "/metrics"); res.Code != 200 || res.Body.String() != "luted_up 1\n" {
		t.Errorf("%d %s", res.Code, res.Body)
	}
	o.Metrics = nil
	if res := get(newHandler(t, o), "/metrics"); res.Code != 404 {
		t.Errorf("without metrics: %d", res.Code)
	}
	if _, err := New(Options{}); err == nil {
		t.Error("New without a shop and an archive gave no error")
	}
}
