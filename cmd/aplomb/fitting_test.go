//go:build unix

package main

import (
	"bytes"
	"errors"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"

	"aplomb/device/sim"
)

// withoutLines is a world that has no pseudo-terminals, or only so many.
func withoutLines(but int) outside {
	o := theWorld()
	o.line = func(link string) (*sim.Line, error) {
		if but--; but >= 0 {
			return sim.OpenLine(link)
		}
		return nil, errors.New("no pseudo-terminal")
	}
	return o
}

// The seed fixes every byte of a fitting and of what is made of it, however busy
// the machine, and whether there are pseudo-terminals or not: all here disturb
// each other.
func TestFittingIsFixedByItsSeed(t *testing.T) {
	t.Parallel()
	worlds := map[string]outside{
		"lines": theWorld(), "lines again": theWorld(),
		"no line": withoutLines(0), "one line": withoutLines(1), "lines for one recording": withoutLines(2),
	}
	dirs, stderr := map[string]string{}, map[string]*bytes.Buffer{}
	var done sync.WaitGroup
	for name, o := range worlds {
		dir, says := t.TempDir(), new(bytes.Buffer)
		dirs[name], stderr[name] = dir, says
		done.Go(func() {
			_, err := o.recordFitting(t.Context(), says, dir, 2, 1) // of one rise, a1 of two
			assert.NoError(t, err)
		})
	}
	done.Wait()
	const fellBack = "no pseudo-terminal can be opened here: the simulated strips hand their frames over directly; the recordings are the same\n"
	for name, dir := range dirs {
		said := strings.Count(stderr[name].String(), fellBack)
		if strings.HasPrefix(name, "lines") && !strings.HasSuffix(name, "recording") {
			assert.Zero(t, said, name)
		} else {
			assert.Equal(t, 1, said, name)
		}
		if name == "lines" {
			continue
		}
		one, other := contents(t, dirs["lines"]), contents(t, dir)
		assert.Len(t, other, 8, name)
		for file, bytes := range one {
			assert.NotEmpty(t, bytes, file)
			assert.True(t, bytes == other[file], "%s: %s differs", name, file)
		}
	}
	made := map[string]map[string]string{}
	said := map[string]string{}
	for _, name := range []string{"lines", "lines again"} {
		dir := dirs[name]
		a1, b1 := dir+"/a1.mcap", dir+"/b1.mcap"
		said[name] = typed(t, "analyze", "--json", a1, b1) + typed(t, "compare", "--json", a1, b1)
		typed(t, "report", a1, b1, "--out", dir+"/report.html")
		typed(t, "plot", a1, b1, "--out", dir+"/pictures")
		made[name] = contents(t, dir)
	}
	assert.Equal(t, said["lines"], said["lines again"])
	one, other := made["lines"], made["lines again"]
	assert.Len(t, other, len(one))
	for _, name := range []string{"a1.mcap", "a2.mcap", "b1.mcap", "b2.mcap", "report.html", "pictures/platforms.svg"} {
		assert.NotEmpty(t, one[name], name)
	}
	for name, bytes := range one {
		assert.True(t, bytes == other[name], "%s differs", name)
	}
}
