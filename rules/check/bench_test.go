package check_test

import (
	"testing"

	"ferrule/knowledge/starter"
	"ferrule/rules/check"
)

// BenchmarkWholePack loads, compiles and checks the starter pack, with all its
// examples.
func BenchmarkWholePack(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		if _, _, err := check.Files(starter.FS); err != nil {
			b.Fatal(err)
		}
	}
}
