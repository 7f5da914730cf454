package main

import (
	"bytes"
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"fmt"
	"io"
	"math/big"
	"net"
	"net/http"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"golang.org/x/crypto/bcrypt"

	"luted/collector/archive"
	"luted/collector/simstill"
	"luted/config"
)

// site is a running luted on one simulated still, in this process.
type site struct {
	conf   string
	url    string
	client *http.Client
	stop   func() (code int, log string)
}

// startSite serves a simulated still, writes a configuration for it with more added, and runs it.
func startSite(t *testing.T, more string) site {
	t.Helper()
	still, err := simstill.New(simstill.Options{Name: "north", Seed: 5}, time.Now())
	if err != nil {
		t.Fatal(err)
	}
	server, err := simstill.Listen("127.0.0.1:0", time.Now, still)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { server.Close() })
	listen, err := freePort("127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	conf := filepath.Join(t.TempDir(), "luted.yaml")
	write(t, conf, fmt.Sprintf("lines: {plc: {tcp: %q}}\nweb:\n  listen: %q\n%sstills:\n", server.Addr(), listen, more)+
		still.ConfigYAML("plc", 1, 200*time.Millisecond))
	ctx, cancel := context.WithCancel(t.Context())
	t.Cleanup(cancel)
	var wg sync.WaitGroup
	var code int
	var log bytes.Buffer
	wg.Go(func() {
		code = execute(ctx, []string{"run", "--config", conf, "--log", "json"}, streams{in: strings.NewReader(""), out: io.Discard, err: &log})
	})
	return site{conf, "http://" + listen, http.DefaultClient, func() (int, string) { cancel(); wg.Wait(); return code, log.String() }}
}

// get asks until the answer has the status, or half a minute has gone.
func (s site) get(t *testing.T, path string, status int) string {
	t.Helper()
	deadline := time.Now().Add(30 * time.Second)
	for {
		resp, err := s.client.Get(s.url + path)
		if err == nil {
			body, rerr := io.ReadAll(resp.Body)
			resp.Body.Close()
			if resp.StatusCode == status && rerr == nil {
				return string(body)
			}
			err = fmt.Errorf("status %d: %s", resp.StatusCode, body)
		}
		if time.Now().After(deadline) {
			code, log := s.stop()
			t.Fatalf("%s: %v (exit code %d)\n%s", path, err, code, log)
		}
		time.Sleep(20 * time.Millisecond)
	}
}

// TestRun goes the whole way: a Modbus server, the poller, the archive, the page, the API, the metrics,
// and an end as by a service manager.
func TestRun(t *testing.T) {
	s := startSite(t, "")
	s.get(t, "/readyz", http.StatusOK)
	if page := s.get(t, "/", http.StatusOK); !strings.Contains(page, "<html") {
		t.Errorf("the page:\n%.300s", page)
	}
	for path, want := range map[string]string{
		"/metrics":    `luted_temperature_celsius{channel="jacket_temperature",still="north"}`,
		"/api/stills": `"name":"north"`,
		"/healthz":    "",
	} {
		if body := s.get(t, path, http.StatusOK); !strings.Contains(body, want) {
			t.Errorf("%s lacks %s:\n%.500s", path, want, body)
		}
	}
	if strings.Contains(s.get(t, "/metrics", http.StatusOK), "simulated") {
		t.Error("real stills are not marked as simulated")
	}
	code, log := s.stop()
	if code != exitDone {
		t.Errorf("exit code %d\n%s", code, log)
	}
	cfg, _, err := config.Load(s.conf)
	if err != nil {
		t.Fatal(err)
	}
	a, err := archive.OpenReadOnly(t.Context(), cfg.Archive.Path)
	if err != nil {
		t.Fatal(err)
	}
	defer a.Close()
	if last, err := a.LastScan(t.Context(), "north"); err != nil || time.Since(last) > 10*time.Second {
		t.Errorf("last scan in the archive at %v, %v", last, err)
	}
}

// TestRunWithTLSAndLogin: the web configuration file of the exporter toolkit gives TLS and logins.
func TestRunWithTLSAndLogin(t *testing.T) {
	dir := t.TempDir()
	roots := certificate(t, dir)
	hash, err := bcrypt.GenerateFromPassword([]byte("still life"), bcrypt.MinCost)
	if err != nil {
		t.Fatal(err)
	}
	web := filepath.Join(dir, "web.yml")
	write(t, web, fmt.Sprintf("tls_server_config: {cert_file: cert.pem, key_file: key.pem}\nbasic_auth_users: {shop: %s}\n", hash))
	s := startSite(t, fmt.Sprintf("  config: %q\n", web))
	s.url = strings.Replace(s.url, "http:", "https:", 1)
	s.client = &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: roots}}}
	s.get(t, "/api/stills", http.StatusUnauthorized)
	req, _ := http.NewRequest("GET", s.url+"/api/stills", nil)
	req.SetBasicAuth("shop", "still life")
	resp, err := s.client.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	resp.Body.Close()
	if resp.StatusCode != http.StatusOK {
		t.Errorf("with the login: %s", resp.Status)
	}
	if code, log := s.stop(); code != exitDone {
		t.Errorf("exit code %d\n%s", code, log)
	}
}

// certificate writes a self-signed certificate for 127.0.0.1 and returns what trusts it.
func certificate(t *testing.T, dir string) *x509.CertPool {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	tmpl := &x509.Certificate{SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "luted test"}, NotBefore: time.Now().Add(-time.Hour),
		NotAfter: time.Now().Add(time.Hour), IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, IsCA: true, BasicConstraintsValid: true}
	der, err := x509.CreateCertificate(rand.Reader, tmpl, tmpl, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	keyDER, err := x509.MarshalECPrivateKey(key)
	if err != nil {
		t.Fatal(err)
	}
	certPEM := pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der})
	write(t, filepath.Join(dir, "cert.pem"), string(certPEM))
	write(t, filepath.Join(dir, "key.pem"), string(pem.EncodeToMemory(&pem.Block{Type: "EC PRIVATE KEY", Bytes: keyDER})))
	pool := x509.NewCertPool()
	pool.AppendCertsFromPEM(certPEM)
	return pool
}

// TestPortTaken: a page that cannot be served ends the program at once, with the reason.
func TestPortTaken(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	conf := filepath.Join(t.TempDir(), "luted.yaml")
	write(t, conf, fmt.Sprintf("web: {listen: %q}\nstills: {north: {solvent: unknown}}\n", l.Addr()))
	code, _, stderr := luted(t, "", "run", "--config", conf)
	if code != exitFailed || !strings.Contains(stderr, "web.listen") {
		t.Errorf("exit code %d: %s", code, stderr)
	}
	// Where nobody has written a configuration, the flag is named that they have.
	code, _, stderr = luted(t, "", "demo", "--dir", t.TempDir(), "--history", "0 d", "--listen", l.Addr().String())
	if code != exitFailed || !strings.Contains(stderr, "--listen: ") || strings.Contains(stderr, "web.listen") {
		t.Errorf("demo: exit code %d: %s", code, stderr)
	}
}

// TestArchiveInUse: two luted on one archive would tear it apart.
func TestArchiveInUse(t *testing.T) {
	s := startSite(t, "")
	s.get(t, "/readyz", http.StatusOK)
	code, _, stderr := luted(t, "", "run", "--config", s.conf)
	if code != exitFailed || !strings.Contains(stderr, "in use") {
		t.Errorf("exit code %d: %s", code, stderr)
	}
	if code, log := s.stop(); code != exitDone {
		t.Errorf("exit code %d\n%s", code, log)
	}
}
