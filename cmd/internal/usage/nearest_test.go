package usage_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"aplomb/cmd/internal/usage"
)

func TestNearest(t *testing.T) {
	names := []string{"shoe", "strip", "same-mounting-as", "dancer", "json"}
	for typed, want := range map[string]string{
		"shoes": "shoe", "stirp": "strip", "same-mounting": "same-mounting-as", "dan": "dancer", "josn": "json", "pressure": "", "x": "",
	} {
		assert.Equal(t, want, usage.Nearest(typed, names), typed)
	}
}
