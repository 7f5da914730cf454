package dashboards

import (
	"net/http"
	"slices"
	"strings"

	"luted/analysis/alarm"
)

// route is one thing that can be asked for. The page's own files are not listed here; every route that
// is, except the pages, is described in openapi.json, and a test holds the two together.
type route struct {
	method, path string
	serve        func(*server, http.ResponseWriter, *http.Request) error
}

var pages = []route{
	{"GET", "/{$}", page("shop.html")},
	{"GET", "/still/{still}", page("still.html")},
	{"GET", "/runs", page("runs.html")},
	{"GET", "/still/{still}/runs", page("runs.html")},
	{"GET", "/compare", page("compare.html")},
	{"GET", "/energy", page("energy.html")},
	{"GET", "/upkeep", page("upkeep.html")},
	{"GET", "/alarms", page("alarms.html")},
	{"GET", "/still/{still}/checks", page("checks.html")},
	{"GET", "/still/{still}/run/{run}", (*server).recordPage},
	{"GET", "/month", (*server).thisMonth},
	{"GET", "/month/{month}", (*server).monthPage},
	{"GET", "/web/{file}", asset},
	{"GET", "/favicon.ico", func(s *server, w http.ResponseWriter, r *http.Request) error {
		return s.serveFile(w, r, "web/luted.svg")
	}},
}

var api = []route{
	{"GET", "/healthz", (*server).healthz},
	{"GET", "/readyz", (*server).readyz},
	{"GET", "/api/openapi.json", func(s *server, w http.ResponseWriter, r *http.Request) error {
		return s.serveFile(w, r, "openapi.json")
	}},
	{"GET", "/api/site", (*server).site},
	{"GET", "/api/stills", (*server).stills},
	{"GET", "/api/stills/{still}", (*server).still},
	{"GET", "/api/stills/{still}/trend", (*server).trend},
	{"GET", "/api/stills/{still}/runs", (*server).stillRuns},
	{"GET", "/api/stills/{still}/recording.csv", (*server).recording},
	{"GET", "/api/stills/{still}/checks", (*server).checks},
	{"POST", "/api/stills/{still}/checks", (*server).check},
	{"GET", "/api/stills/{still}/runs/{run}/record", (*server).record},
	{"POST", "/api/stills/{still}/runs/{run}/record", (*server).amend},
	{"GET", "/api/stills/{still}/runs/{run}/record.csv", (*server).recordCSV},
	{"POST", "/api/stills/{still}/runs/{run}/notes", (*server).note},
	{"GET", "/api/months/{month}", (*server).month},
	{"GET", "/api/months/{month}/month.csv", (*server).monthCSV},
	{"GET", "/api/runs", (*server).runs},
	{"GET", "/api/compare", (*server).compare},
	{"GET", "/api/energy", (*server).energy},
	{"GET", "/api/upkeep", (*server).upkeep},
	{"POST", "/api/upkeep/done", (*server).upkeepDone},
	{"GET", "/api/alarms", (*server).alarms},
	{"GET", "/api/alarms/rates", (*server).alarmRates},
	{"POST", "/api/alarms/acknowledge", act(alarm.Acknowledge)},
	{"POST", "/api/alarms/shelve", act(alarm.Shelve)},
	{"POST", "/api/alarms/unshelve", act(alarm.Unshelve)},
	{"POST", "/api/alarms/reset", act(alarm.Reset)},
	{"POST", "/api/alarms/remove-from-service", act(alarm.RemoveService)},
	{"POST", "/api/alarms/return-to-service", act(alarm.ReturnService)},
	{"GET", "/api/journal", (*server).journal},
	{"GET", "/events", (*server).events},
}

// mux joins the routes. What none of them takes is answered as a problem too.
func (s *server) mux() http.Handler {
	mux := http.NewServeMux()
	for _, r := range slices.Concat(pages, api) {
		mux.HandleFunc(r.method+" "+r.path, func(w http.ResponseWriter, req *http.Request) {
			if err := r.serve(s, w, req); err != nil {
				s.fail(w, req, err)
			}
		})
	}
	if s.Metrics != nil {
		mux.Handle("GET /metrics", s.Metrics)
	}
	mux.HandleFunc("/", func(w http.ResponseWriter, r *http.Request) {
		var allowed []string
		for _, m := range []string{"GET", "HEAD", "POST"} {
			probe := *r
			probe.Method = m
			if _, pattern := mux.Handler(&probe); pattern != "/" {
				allowed = append(allowed, m)
			}
		}
		if len(allowed) == 0 {
			if err := s.missing(w, r, notFound(r)); err != nil {
				s.fail(w, r, err)
			}
			return
		}
		w.Header().Set("Allow", strings.Join(allowed, ", "))
		s.fail(w, r, problemf(http.StatusMethodNotAllowed, "%s does not work here; %s does.", r.Method, strings.Join(allowed, " or ")))
	})
	return mux
}

func notFound(r *http.Request) *problem {
	return problemf(http.StatusNotFound, "There is nothing at %s.", r.URL.Path)
}

// page serves one of the pages. A person who asks for a still that is not there gets a page that helps on.
func page(name string) func(*server, http.ResponseWriter, *http.Request) error {
	return func(s *server, w http.ResponseWriter, r *http.Request) error {
		if still := r.PathValue("still"); still != "" {
			if _, err := s.findStill(still); err != nil {
				return s.missing(w, r, err)
			}
		}
		return s.serveFile(w, r, "web/"+name)
	}
}

func asset(s *server, w http.ResponseWriter, r *http.Request) error {
	return s.serveFile(w, r, "web/"+r.PathValue("file"))
}
