package console_test

import (
	"errors"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"

	"aplomb/cmd/internal/console"
)

// An error is one line of readable length, for any content of a file.
func TestExplainIsOneShortLine(t *testing.T) {
	said := console.Explain(errors.New("a.toml:1: " + strings.Repeat("9\n", 60_000) + " is no number"))
	assert.Less(t, utf8.RuneCountInString(said), 1100)
	assert.NotContains(t, said, "\n")
	assert.True(t, strings.HasPrefix(said, "a.toml:1: 9"))
	assert.True(t, strings.HasSuffix(said, " is no number"))
	assert.Equal(t, "a: b; c", console.Explain(errors.New("a: b\nc")))
}
