// Package compose holds the files that docker-compose.yml mounts, and holds that file against the
// compose specification's own parser.
package compose

import (
	"context"
	"strings"
	"testing"

	"github.com/compose-spec/compose-go/v2/cli"

	"luted/config"
)

func load(t *testing.T, env ...string) (map[string]map[string]*string, error) {
	t.Helper()
	o, err := cli.NewProjectOptions([]string{"../../docker-compose.yml"}, cli.WithEnv(env))
	if err != nil {
		t.Fatal(err)
	}
	p, err := o.LoadProject(context.Background())
	if err != nil {
		return nil, err
	}
	out := map[string]map[string]*string{}
	for name, s := range p.Services {
		if tag := s.Image; s.Build == nil && (!strings.Contains(tag, ":") || strings.HasSuffix(tag, ":latest")) {
			t.Errorf("%s: image %q is not pinned to a version", name, tag)
		}
		for _, port := range s.Ports {
			if port.HostIP != "127.0.0.1" {
				t.Errorf("%s: port %s is open to other machines", name, port.Published)
			}
		}
		out[name] = s.Environment
	}
	return out, nil
}

// The parser of the compose specification takes the file, and refuses it without secrets of one's own.
func TestCompose(t *testing.T) {
	services, err := load(t, "LUTED_INFLUX_PASSWORD=of-my-choosing", "LUTED_INFLUX_TOKEN=mine")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"luted", "influxdb", "prometheus"} {
		if _, ok := services[name]; !ok {
			t.Errorf("no service %s", name)
		}
	}
	if got := services["influxdb"]["DOCKER_INFLUXDB_INIT_PASSWORD"]; got == nil || *got != "of-my-choosing" {
		t.Error("the password of InfluxDB is not the one chosen")
	}
	for _, env := range [][]string{nil, {"LUTED_INFLUX_PASSWORD=x"}, {"LUTED_INFLUX_TOKEN=x"}} {
		if _, err := load(t, env...); err == nil || !strings.Contains(err.Error(), "LUTED_INFLUX") {
			t.Errorf("with %v: %v, want a refusal that names what to set", env, err)
		}
	}
}

// The mounted sections fit into a configuration.
func TestOutlets(t *testing.T) {
	t.Setenv("LUTED_INFLUX_TOKEN", "mine")
	c, _, err := config.Load("outlets.yaml")
	if err != nil && !onlyMissing(err) {
		t.Fatal(err)
	}
	if err == nil && (c.Export.Influx == nil || c.Export.Influx.Token.Reveal() != "mine") {
		t.Error("the InfluxDB section did not come through")
	}
}

// onlyMissing reports that the file's only fault is what the demo's own configuration adds: its stills.
func onlyMissing(err error) bool {
	for _, e := range config.Errors(err) {
		if !strings.Contains(e.Error(), "stills") && !strings.Contains(e.Error(), "site") && !strings.Contains(e.Error(), "lines") {
			return false
		}
	}
	return true
}
