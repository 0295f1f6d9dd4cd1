package console_test

import (
	"bytes"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"aplomb/cmd/internal/console"
)

func TestProgressIsNotShownWhereItIsQuiet(t *testing.T) {
	var at time.Time
	now := func() time.Time { at = at.Add(time.Minute); return at }
	var out bytes.Buffer
	console.NewProgress(&out).By(now).Show("%d of 3", 1)
	assert.Equal(t, "1 of 3\n", out.String())
	out.Reset()
	quiet := console.Quiet{Writer: &out}
	p := console.NewProgress(quiet).By(now)
	p.Show("%d of 3", 2)
	p.Clear()
	assert.Empty(t, out.String())
	fmt.Fprintln(quiet, "warning: all else is written")
	assert.Equal(t, "warning: all else is written\n", out.String())
}
