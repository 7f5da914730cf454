package modbus

import (
	"errors"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"reflect"
	"strconv"
	"strings"
	"testing"

	goburrow "github.com/goburrow/modbus"
	simonvetter "github.com/simonvetter/modbus"
)

const (
	clientLibrary = "github.com/goburrow/modbus"
	serverLibrary = "github.com/simonvetter/modbus"
)

// TestRepositoryOnlyReads: no code of the repository outside tests names anything by which one of the
// Modbus libraries could write to a device. The protocol client is used in this package alone, and
// the library with the server is never used as a client.
func TestRepositoryOnlyReads(t *testing.T) {
	root := repository(t)
	files := 0
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && path != root && (strings.HasPrefix(d.Name(), ".") || d.Name() == "testdata") {
			return filepath.SkipDir
		}
		if d.Type()&fs.ModeSymlink != 0 || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return nil
		}
		src, err := os.ReadFile(path)
		if errors.Is(err, fs.ErrNotExist) {
			return nil
		}
		if err != nil {
			return err
		}
		files++
		rel, _ := filepath.Rel(root, path)
		for _, complaint := range writes(filepath.ToSlash(rel), src) {
			t.Error(complaint)
		}
		return nil
	})
	if err != nil || files == 0 {
		t.Fatalf("%d files looked at: %v", files, err)
	}
}

// TestWritesAreFound: the check above finds what it is for.
func TestWritesAreFound(t *testing.T) {
	for _, tt := range []struct {
		name, path, src string
		want            int
	}{
		{"a write", "collector/modbus/a.go", `package modbus; import m "github.com/goburrow/modbus"; func f(c m.Client) { c.WriteSingleCoil(0, 1) }`, 1},
		{"a write as a value", "collector/modbus/a.go", `package modbus; import m "github.com/goburrow/modbus"; var f = m.Client.WriteMultipleRegisters`, 1},
		{"a write through an interface", "collector/modbus/a.go", `package modbus; type w interface{ MaskWriteRegister(a, b, c uint16) ([]byte, error) }`, 1},
		{"a function code", "collector/modbus/a.go", `package modbus; import m "github.com/goburrow/modbus"; const f = m.FuncCodeWriteSingleRegister`, 1},
		{"reading and writing at once", "collector/modbus/a.go", `package modbus; import m "github.com/goburrow/modbus"; func f(c m.Client) { c.ReadWriteMultipleRegisters(0, 1, 0, 1, nil) }`, 1},
		{"the client elsewhere", "collector/export/a.go", `package export; import _ "github.com/goburrow/modbus"`, 1},
		{"the other library's client", "collector/simstill/a.go", `package simstill; import "github.com/simonvetter/modbus"; var c, _ = modbus.NewClient(nil)`, 1},
		{"the other library's write", "collector/simstill/a.go", `package simstill; import "github.com/simonvetter/modbus"; func f(c *modbus.ModbusClient) { c.WriteCoil(0, true) }`, 2},
		{"a server", "collector/simstill/a.go", `package simstill; import "github.com/simonvetter/modbus"; var s, _ = modbus.NewServer(nil, nil)`, 0},
		{"reads", "collector/modbus/a.go", `package modbus; import m "github.com/goburrow/modbus"; func f(c m.Client) { c.ReadCoils(0, 1) }`, 0},
	} {
		if got := writes(tt.path, []byte(tt.src)); len(got) != tt.want {
			t.Errorf("%s: found %q, want %d", tt.name, got, tt.want)
		}
	}
}

// writes lists what in a file could write to a device.
func writes(path string, src []byte) (complaints []string) {
	fset := token.NewFileSet()
	f, err := parser.ParseFile(fset, path, src, 0)
	if err != nil {
		return nil // half-written; the compiler will say so
	}
	forbidden := map[string]bool{}
	add := func(t reflect.Type) {
		for i := range t.NumMethod() {
			if n := t.Method(i).Name; strings.Contains(n, "Write") {
				forbidden[n] = true
			}
		}
	}
	add(reflect.TypeFor[goburrow.Client]())
	for _, spec := range f.Imports {
		switch lib, _ := strconv.Unquote(spec.Path.Value); lib {
		case clientLibrary:
			if !strings.HasPrefix(path, "collector/modbus/") {
				complaints = append(complaints, fmt.Sprintf("%s: %s belongs in collector/modbus only", path, clientLibrary))
			}
		case serverLibrary:
			add(reflect.TypeFor[*simonvetter.ModbusClient]())
			forbidden["NewClient"], forbidden["ModbusClient"] = true, true
		}
	}
	ast.Inspect(f, func(n ast.Node) bool {
		if id, ok := n.(*ast.Ident); ok && (forbidden[id.Name] || strings.HasPrefix(id.Name, "FuncCodeWrite")) {
			complaints = append(complaints, fmt.Sprintf("%s: %s could write to a device; luted only reads", fset.Position(id.Pos()), id.Name))
		}
		return true
	})
	return complaints
}

// repository is the directory that holds go.mod.
func repository(t testing.TB) string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return dir
		}
		if dir == filepath.Dir(dir) {
			t.Fatal("no go.mod above this package")
		}
		dir = filepath.Dir(dir)
	}
}
