package analyze_test

import (
	"testing"

	"aplomb/analyze"
)

func TestZZ(t *testing.T) {
	for range 5 {
		_, err := analyze.File("/tmp/bench/x.mcap", analyze.Options{})
		if err != nil {
			t.Fatal(err)
		}
	}
}
