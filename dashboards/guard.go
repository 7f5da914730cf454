package dashboards

import (
	"net"
	"net/http"
	"slices"
	"strings"
)

// pageHeaders hold for every answer. The page runs only its own files: no inline script or style, no
// other host, no frame around it, no string that becomes markup.
var pageHeaders = map[string]string{
	"Content-Security-Policy": "default-src 'self'; base-uri 'none'; object-src 'none'; form-action 'self'; " +
		"frame-ancestors 'none'; require-trusted-types-for 'script'; trusted-types 'none'",
	"X-Content-Type-Options":       "nosniff",
	"Referrer-Policy":              "no-referrer",
	"Cross-Origin-Opener-Policy":   "same-origin",
	"Cross-Origin-Resource-Policy": "same-origin",
	"Permissions-Policy":           "camera=(), geolocation=(), microphone=(), usb=(), serial=()",
}

// guard stands in front of every route: it sets the headers, refuses names that a server on this machine
// only cannot have (a page elsewhere that points its own name here: DNS rebinding), and refuses changes
// that another site makes a browser ask for.
func (s *server) guard(next http.Handler) http.Handler {
	cross := http.NewCrossOriginProtection()
	cross.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.fail(w, r, problemf(http.StatusForbidden, "Another site's page may not change anything here."))
	}))
	next = cross.Handler(next)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		for k, v := range pageHeaders {
			w.Header().Set(k, v)
		}
		if !s.hostAllowed(r) {
			s.fail(w, r, problemf(http.StatusMisdirectedRequest,
				"This server listens on its own machine only and is not called %q. Ask for localhost, or write the address it is reached at as web.page.", r.Host))
			return
		}
		next.ServeHTTP(w, r)
	})
}

// hostAllowed reports whether the name asked for can be this server's. Only a connection to a loopback
// address is checked: whoever opens the listener to a network also decides its names.
func (s *server) hostAllowed(r *http.Request) bool {
	local, ok := r.Context().Value(http.LocalAddrContextKey).(*net.TCPAddr)
	if !ok || !local.IP.IsLoopback() {
		return true
	}
	host := strings.ToLower(strings.TrimSuffix(hostname(r.Host), "."))
	if host == "localhost" || strings.HasSuffix(host, ".localhost") {
		return true
	}
	if ip := net.ParseIP(host); ip != nil {
		return ip.IsLoopback()
	}
	return slices.ContainsFunc(s.Hosts, func(h string) bool { return strings.EqualFold(h, host) })
}

// hostname is the name without a port, and without the brackets of an IPv6 address.
func hostname(hostport string) string {
	if h, _, err := net.SplitHostPort(hostport); err == nil {
		return h
	}
	return strings.Trim(hostport, "[]")
}
