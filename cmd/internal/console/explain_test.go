package console_test

import (
	"errors"
	"fmt"
	"io/fs"
	"strings"
	"syscall"
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

// Errors of the system have a remedy, and one that was chosen for the place comes first.
func TestRemedies(t *testing.T) {
	refused := func(why error) error { return &fs.PathError{Op: "write", Path: "a.mcap", Err: why} }
	assert.Equal(t, "write a.mcap: "+syscall.EFBIG.Error()+": this disk or this user may have no file of that size: use another disk", console.Explain(refused(syscall.EFBIG)))
	assert.Equal(t, "write a.mcap: "+syscall.ELOOP.Error()+": remove one of the links", console.Explain(refused(syscall.ELOOP)))
	missing := refused(fs.ErrNotExist)
	assert.Equal(t, "write a.mcap: file does not exist: is the name right?", console.Explain(missing))
	chosen := fmt.Errorf("recording 1: %w", &console.Remedy{Err: missing, Do: "put it back"})
	assert.Equal(t, "recording 1: write a.mcap: file does not exist: put it back", console.Explain(chosen))
	assert.Equal(t, "a.mcap", console.File(chosen))
}
