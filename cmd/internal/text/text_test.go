package text_test

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/cmd/internal/text"
	"aplomb/device"
)

func TestWrap(t *testing.T) {
	long := strings.Repeat("word ", 15) + "1000 % done"
	assert.Equal(t, strings.TrimSpace(strings.Repeat("word ", 15))+"\n1000 % done", text.Wrap(long), "% stays with its number")
	for line := range strings.Lines(text.Wrap(strings.Repeat("relevé ", 100))) {
		assert.LessOrEqual(t, len([]rune(strings.TrimSuffix(line, "\n"))), 80)
	}
	for line := range strings.Lines(text.Indent(strings.Repeat("relevé ", 100), "     ")) {
		assert.LessOrEqual(t, len([]rune(strings.TrimSuffix(line, "\n"))), 80)
	}
	assert.Equal(t, "  one\n  "+strings.Repeat("x", 80), text.Indent("one "+strings.Repeat("x", 80), "  "))
	assert.True(t, strings.HasPrefix(text.Item("  - ", long), "  - word"))
	assert.Contains(t, text.Item("  - ", long), "\n    1000 % done")
}

func TestTable(t *testing.T) {
	var b bytes.Buffer
	text.Table(&b, []string{"code", "note", ""}, [][]string{{"A", "two\nlines", ""}, {"B12", "", "x"}})
	assert.Equal(t, "code  note\nA     two lines\nB12              x\n", b.String())
	b.Reset()
	text.Facts(&b, "box", "square", "crown", "", "hours worn", "4", "note", "one\ntwo")
	assert.Equal(t, "  box              square\n  hours worn       4\n  note             one\n                   two\n", b.String())
	b.Reset()
	text.Warnings(&b, []string{"one", "two"})
	assert.Equal(t, "warning: one\nwarning: two\n", b.String())
}

func TestWords(t *testing.T) {
	assert.Equal(t, "D7", text.Quoted("D7"))
	assert.Equal(t, `'D 7'\''s'`, text.Quoted("D 7's"))
	assert.Equal(t, "a�[2Jb\n", text.Plain("a\x1b[2Jb\n"))
	assert.Equal(t, "1:30", text.Clock(89600*time.Millisecond))
	assert.Equal(t, "0:10", text.Clock(10*time.Second))
	assert.Equal(t, "press, forward or backward", text.Either("press", "forward", "backward"))
	assert.Equal(t, "−12.5 %", text.Percent(-0.125, 1), "as every other number")
	assert.Equal(t, "0.0 %", text.Percent(-1e-5, 1))
	assert.Equal(t, "12.5 %", text.Percent(0.125, 1))
	assert.Equal(t, "4", text.Trimmed(4.001))
	assert.Equal(t, "22.23", text.Trimmed(22.225))
	assert.Equal(t, "", text.Known(0, "mm"))
	assert.Equal(t, "36 × 22 mm", text.Unit("mm").Size([2]float64{36, 22}))
	var u text.Unit
	require.NoError(t, u.Set("inch"))
	assert.Equal(t, "1 in", u.Length(25.4)) // by definition of the inch
	assert.Error(t, u.Set("ell"))
}

func TestShapes(t *testing.T) {
	for _, word := range text.ShapeNames() {
		e, err := text.ParseShape(word)
		require.NoError(t, err)
		assert.Equal(t, word, text.Shape(&device.Shoe{OutlineExponent: e}))
	}
	e, err := text.ParseShape("3,5")
	require.NoError(t, err)
	assert.Equal(t, "3.5", text.Shape(&device.Shoe{OutlineExponent: e}))
	e, err = text.ParseShape("")
	require.NoError(t, err)
	assert.Equal(t, text.DefaultShape, e)
	_, err = text.ParseShape("star")
	assert.ErrorContains(t, err, text.ShapeHelp)
	assert.Equal(t, "traced", text.Shape(&device.Shoe{OutlineMM: make([][2]float64, 5)}))
}
