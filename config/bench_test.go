package config

import (
	"os"
	"testing"
)

// BenchmarkParse reads the example: what a start, or a reload, costs.
func BenchmarkParse(b *testing.B) {
	data, err := os.ReadFile("testdata/good/example.yaml")
	if err != nil {
		b.Fatal(err)
	}
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		if _, _, err := Parse("luted.yaml", data, testEnv); err != nil {
			b.Fatal(err)
		}
	}
}
