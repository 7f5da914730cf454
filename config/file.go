package config

import (
	"net"
	"net/mail"
	"net/url"
	"strconv"
	"strings"
	"time"
	_ "time/tzdata" // a site's time zone is known on machines without a database of them

	"luted/analysis"
)

// fileRoot is the file before names are resolved: a still may stand before its line and its site.
type fileRoot struct {
	Config
	own    []*ownSolvent
	stills []*stillFile
	checks checksFile
}

// The shape of the file, from the top. Each part is written once, here and in still.go and channel.go.

var rootFields = []field[fileRoot]{
	key("site", siteShape, "the place", func(c *fileRoot) *Site { return &c.Site }).otherwise("{}"),
	key("lines", named(plainName, always(lineShape), nil, func(l *Line) *string { return &l.Name }, func(l *Line) *Pos { return &l.At }),
		"the connections, by name; devices on one line are polled in turn, never at once", func(c *fileRoot) *[]*Line { return &c.Lines }),
	key("solvents", ownSolvents, "solvents of your own, by name, with figures from their data sheets", func(c *fileRoot) *[]*ownSolvent { return &c.own }),
	key("stills", atLeastOne("still", named(plainName, always(stillShape), nil, func(s *stillFile) *string { return &s.Name }, func(s *stillFile) *Pos { return &s.At })),
		"the stills, by name", func(c *fileRoot) *[]*stillFile { return &c.stills }).needed(),
	key("checks", siteChecks, "start checks, which people tick before a run; recorded, nothing is locked", func(c *fileRoot) *checksFile { return &c.checks }).otherwise("{}"),
	key("archive", archiveShape, "where everything is kept, and for how long", func(c *fileRoot) *Archive { return &c.Archive }).otherwise("{}"),
	key("web", webShape, "the page and its API", func(c *fileRoot) *Web { return &c.Web }).otherwise("{}"),
	key("export", exportShape, "where measurements are sent", func(c *fileRoot) *Export { return &c.Export }),
	key("notify", notifyShape, "where alarms are sent", func(c *fileRoot) *Notify { return &c.Notify }).otherwise("{}"),
	key("prices", pricesShape, "what energy, fresh solvent, waste and liners cost, all in one currency", func(c *fileRoot) *Prices { return &c.Prices }),
}

var rootShape = object("", rootFields)

// always is a shape that does not depend on the name.
func always[T any](s shape[T]) func(string) shape[T] { return func(string) shape[T] { return s } }

var siteShape = object("site", []field[Site]{
	key("name", text, "what people call the place", func(s *Site) *string { return &s.Name }),
	key("altitude", inside(Length, between(-500, 9000, "no shop is there")),
		"height above sea level; it decides what vacuum is possible", func(s *Site) *float64 { return &s.AltitudeM }).otherwise("0 m"),
	key("display", choice(analysis.US, analysis.Metric), "units of what people read: us (°F, inHg, gal) or metric (°C, kPa, L)",
		func(s *Site) *analysis.Display { return &s.Display }).otherwise("metric"),
	key("time_zone", timeZone, "time zone of days and months, such as America/Denver; that of this machine if left out",
		func(s *Site) **time.Location { return &s.TimeZone }),
})

var timeZone = texts(func(s string) (*time.Location, error) {
	l, err := time.LoadLocation(s)
	if err != nil {
		return nil, &quantityError{s, "no such time zone", "write a name such as America/Denver, Europe/Madrid or UTC"}
	}
	return l, nil
}, plainly(schema{"type": "string", "examples": []string{"America/Denver", "UTC"}}))

var lineShape = object("line", []field[Line]{
	key("tcp", remote("10.20.0.5:502"), "host:port of a Modbus TCP device or gateway", func(l *Line) *string { return &l.TCP }),
	key("serial", text, "serial device file of a Modbus RTU bus", func(l *Line) *string { return &l.Serial }),
	key("baud", whole[int](300, 1_000_000), "bits per second of the serial line", func(l *Line) *int { return &l.Baud }),
	key("parity", choice("none", "even", "odd"), "parity of the serial line", func(l *Line) *string { return &l.Parity }),
	key("stop", whole[int](1, 2), "stop bits of the serial line; 1 with parity and 2 without, if left out", func(l *Line) *int { return &l.Stop }),
	key("timeout", duration(10*time.Millisecond, time.Minute), "how long to wait for an answer", func(l *Line) *time.Duration { return &l.Timeout }).otherwise("1 s"),
	key("pause", duration(0, 10*time.Second), "silence between requests, for devices that need it", func(l *Line) *time.Duration { return &l.Pause }),
},
	exactlyOne[Line]("write either tcp: host:port or serial: /dev/...", "tcp", "serial"),
	needs[Line]("baud", "only a serial line has it", "serial"),
	needs[Line]("parity", "only a serial line has it", "serial"),
	needs[Line]("stop", "only a serial line has it", "serial"),
	checked(func(_ *reader, _ node, written keys, l *Line) bool {
		if !written.has("serial") {
			return true
		}
		// The defaults of Modbus over Serial Line V1.02, 2.5.1 (from memory): 19200 baud, even parity;
		// without parity two stop bits, so that a character always has 11 bits.
		if l.Baud == 0 {
			l.Baud = 19200
		}
		if l.Parity == "" {
			l.Parity = "even"
		}
		if l.Stop == 0 {
			l.Stop = 1
			if l.Parity == "none" {
				l.Stop = 2
			}
		}
		return true
	}),
)

// hostPort is host:port; eg shows one.
func hostPort(eg string) shape[string] {
	return texts(func(s string) (string, error) {
		host, port, err := net.SplitHostPort(s)
		switch {
		case err != nil:
			return "", &quantityError{s, "no host:port", "write for instance " + eg}
		case strings.ContainsAny(host, " /@"):
			return "", &quantityError{s, "no host name or address " + quote(host), "write for instance " + eg}
		}
		if n, err := strconv.ParseUint(port, 10, 16); err != nil || n == 0 {
			return "", &quantityError{s, "no port " + quote(port), "write a number from 1 to 65535"}
		}
		return s, nil
	}, plainly(schema{"type": "string", "pattern": `^.*:[0-9]{1,5}$`, "examples": []string{eg}}))
}

// remote is host:port of another machine, so the host cannot be empty.
func remote(eg string) shape[string] {
	s := mapped(hostPort(eg), func(r *reader, n node, s string) (string, bool) {
		if strings.HasPrefix(s, ":") {
			r.fail(n, "no host", "write for instance "+eg)
			return "", false
		}
		return s, true
	})
	s.schema = plainly(schema{"type": "string", "pattern": `^.+:[0-9]{1,5}$`, "examples": []string{eg}})
	return s
}

// path is a file beside the configuration file.
var path = shape[string]{
	func(r *reader, n node) (string, bool) {
		s, ok := text.read(r, n)
		if !ok {
			return "", false
		}
		return r.beside(s), true
	}, text.schema,
}

var size = shape[int64]{
	func(r *reader, n node) (int64, bool) {
		s, ok := measured(r, n, "20 GB")
		if !ok {
			return 0, false
		}
		v, err := ParseSize(s)
		if err != nil {
			r.failWith(n, err)
			return 0, false
		}
		if v < 1e6 {
			r.fail(n, "too small", "write at least 1 MB")
			return 0, false
		}
		return v, true
	},
	func(defs) schema { return sizeSchema() },
}

const longTime = 290 * 365 * 24 * time.Hour

var archiveShape = object("archive", []field[Archive]{
	key("path", path, "the archive's file; relative to this file", func(a *Archive) *string { return &a.Path }).otherwise("luted.db"),
	key("keep", duration(24*time.Hour, longTime), "how long scans are kept; for ever if left out. Runs, alarms and notes stay", func(a *Archive) *time.Duration { return &a.Keep }),
	key("max_size", size, "the oldest scans go when the file would be larger; no limit if left out", func(a *Archive) *int64 { return &a.MaxSize }),
})

var webShape = object("web", []field[Web]{
	key("listen", hostPort("127.0.0.1:8470"), "host:port of the page; only this machine if left out", func(w *Web) *string { return &w.Listen }).otherwise("127.0.0.1:8470"),
	key("page", webAddress, "address that people reach the page at, through a proxy perhaps; links in messages point to it", func(w *Web) *string { return &w.Page }),
	key("config", path, "web configuration file with TLS and logins (Prometheus exporter-toolkit format)", func(w *Web) *string { return &w.Config }),
})

// webAddress is a URL to send things to. A login in it would be a secret in the file.
var webAddress = texts(func(s string) (string, error) {
	u, err := url.Parse(s)
	switch {
	case err != nil || (u.Scheme != "http" && u.Scheme != "https") || u.Host == "" || u.Hostname() == "":
		return "", &quantityError{withoutLogin(s), "no web address", "write for instance https://metrics.example.com:8086"}
	case u.User != nil:
		return "", &quantityError{withoutLogin(s), "a login in the address", "leave it out; secrets stand in files or environment variables"}
	}
	return s, nil
}, plainly(schema{"type": "string", "format": "uri", "pattern": "^https?://"}))

// withoutLogin is an address, right or wrong, without what may be a password in it.
func withoutLogin(s string) string {
	if i := strings.LastIndexByte(s, '@'); i >= 0 {
		scheme, _, found := strings.Cut(s[:i], "//")
		if !found {
			return "..." + s[i:]
		}
		return scheme + "//..." + s[i:]
	}
	return s
}

var exportShape = object("export", []field[Export]{
	key("influx", optional(influxShape), "InfluxDB 2, or any engine that takes its writes", func(e *Export) **Influx { return &e.Influx }),
})

var influxShape = placed(object("influx", []field[Influx]{
	key("url", webAddress, "address of the database", func(x *Influx) *string { return &x.URL }).needed(),
	key("org", text, "organisation", func(x *Influx) *string { return &x.Org }).needed(),
	key("bucket", text, "bucket", func(x *Influx) *string { return &x.Bucket }).needed(),
	key("token", secret, "token with the right to write: {env: NAME} or {file: PATH}", func(x *Influx) *Secret { return &x.Token }).needed(),
	key("batch", whole[int](1, 100_000), "most points in one write", func(x *Influx) *int { return &x.Batch }).otherwise("5000"),
	key("every", duration(100*time.Millisecond, time.Hour), "longest wait before a write", func(x *Influx) *time.Duration { return &x.Every }).otherwise("1 s"),
}), func(x *Influx) *Pos { return &x.At })

var notifyShape = object("notify", []field[Notify]{
	key("mail", optional(mailShape), "mail", func(n *Notify) **Mail { return &n.Mail }),
	key("webhook", optional(webhookShape), "a web address that takes alarms as JSON", func(n *Notify) **Webhook { return &n.Webhook }),
	key("alertmanager", optional(alertmanagerShape), "a Prometheus Alertmanager", func(n *Notify) **Alertmanager { return &n.Alertmanager }),
	key("group", duration(0, time.Hour), "alarms of one still within this time go out as one message", func(n *Notify) *time.Duration { return &n.Group }).otherwise("30 s"),
})

var mailShape = placed(object("mail", []field[Mail]{
	key("server", remote("mail.example.com:587"), "host:port of the mail server", func(m *Mail) *string { return &m.Server }).needed(),
	key("tls", choice("starttls", "tls", "none"), "encryption: starttls (usually port 587), tls (usually 465) or none", func(m *Mail) *string { return &m.TLS }).otherwise("starttls"),
	key("user", text, "login", func(m *Mail) *string { return &m.User }),
	key("password", secret, "password: {env: NAME} or {file: PATH}", func(m *Mail) *Secret { return &m.Password }),
	key("from", address, "sender", func(m *Mail) *string { return &m.From }).needed(),
	key("to", list(address, 1, 100), "who is told", func(m *Mail) *[]string { return &m.To }).needed(),
},
	needs[Mail]("user", "write both or neither", "password"),
	needs[Mail]("password", "write both or neither", "user"),
), func(m *Mail) *Pos { return &m.At })

var address = texts(func(s string) (string, error) {
	if _, err := mail.ParseAddress(s); err != nil {
		return "", &quantityError{s, "no mail address", "write for instance still@example.com"}
	}
	return s, nil
}, plainly(schema{"type": "string", "pattern": "@"}))

var webhookShape = placed(object("webhook", []field[Webhook]{
	key("url", webAddress, "where alarms are posted", func(w *Webhook) *string { return &w.URL }).needed(),
	key("secret", secret, "key that signs them (HMAC-SHA256): {env: NAME} or {file: PATH}", func(w *Webhook) *Secret { return &w.Secret }),
}), func(w *Webhook) *Pos { return &w.At })

var alertmanagerShape = placed(object("alertmanager", []field[Alertmanager]{
	key("url", webAddress, "its address", func(a *Alertmanager) *string { return &a.URL }).needed(),
}), func(a *Alertmanager) *Pos { return &a.At })

// placed notes where an object stands.
func placed[T any](s shape[T], at func(*T) *Pos) shape[T] {
	return shape[T]{
		func(r *reader, n node) (T, bool) {
			v, ok := s.read(r, n)
			*at(&v) = r.pos(n.key)
			return v, ok
		}, s.schema,
	}
}
