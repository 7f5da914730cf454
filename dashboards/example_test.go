package dashboards

import (
	"fmt"
	"net/http"
	"net/http/httptest"
)

// The handler is mounted in a server with the limits that fit it. Whatever is asked wrongly is answered in
// words, every mistake at once.
func ExampleNew() {
	h, err := New(sceneOptions(newScene())) // Options with a Shop and an Archive
	if err != nil {
		fmt.Println(err)
		return
	}
	server := &http.Server{Handler: h}
	SetLimits(server)

	w := httptest.NewRecorder()
	server.Handler.ServeHTTP(w, httptest.NewRequest("GET", "/api/stills/north/trend?points=5&form=today", nil))
	fmt.Println(w.Code, w.Header().Get("Content-Type"))
	fmt.Println(w.Body)
	// Output:
	// 400 application/problem+json
	// {"type":"about:blank","title":"Bad Request","status":400,"detail":"points: \"5\" is not a whole number from 10 to 4000; form: not known here; there are to, from, points, channels","errors":[{"name":"points","detail":"\"5\" is not a whole number from 10 to 4000"},{"name":"form","detail":"not known here; there are to, from, points, channels"}]}
}
