package input_test

import (
	"fmt"
	"runtime"
	"strings"
	"testing"

	"github.com/BurntSushi/toml"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/device/input"
)

// deepKey is a key of 20,000 parts. A parser needs gigabytes for it.
var deepKey = strings.Repeat("a.", 20_000) + "a = 1\n"

func TestCheckTOMLRefusesWhatIsTooLongOrTooDeep(t *testing.T) {
	numbers := strings.Repeat("1.2345678901234567, ", 12_000) // 240 kB
	for name, c := range map[string]struct {
		text, err string
	}{
		"a profile":           {"# a comment with dots ........ and [[[[[[[[[[[[ in it\nstrip = \"a.b.c.d.e.f.g.h.i.j\"\n[calibration]\ncounts = [1.5, 2.5]\nmount.offset_mm = [1, 2]\n", ""},
		"long lists":          {"counts = [" + numbers + "]\n", ""},
		"a deep key":          {"\n" + deepKey, "line 2: a key of more than 8 parts: no profile has one"},
		"a deep quoted key":   {strings.Repeat(`"a" . `, 20) + "a = 1", "line 1: a key of more than 8 parts: no profile has one"},
		"a deep table":        {"[" + strings.Repeat("a.", 20) + "a]", "line 1: a key of more than 8 parts: no profile has one"},
		"a deep inline table": {"a = {b = '''x'''', " + strings.Repeat("a.", 20) + "a = 1}", "line 1: a key of more than 8 parts: no profile has one"},
		"after a string":      {"a = \"\"\"x\\\"\"\"\"\n" + strings.Repeat("a.", 20) + "a = 1", "line 2: a key of more than 8 parts: no profile has one"},
		"nested lists":        {"a = " + strings.Repeat("[", 60_000), "line 1: more than 8 brackets around a value: no profile has them"},
		"nested tables":       {"a = " + strings.Repeat("{a = ", 10_000), "line 1: more than 8 brackets around a value: no profile has them"},
		"a long comment":      {"#" + strings.Repeat("x", 64<<10), "line 1: more than 64 KiB beside the lists of numbers: no profile is so long"},
		"a long string":       {"a = '" + strings.Repeat("x", 64<<10), "line 1: more than 64 KiB beside the lists of numbers: no profile is so long"},
		"many tables":         {"a = [" + strings.Repeat("{a=1},", 20_000), "line 1: more than 64 KiB beside the lists of numbers: no profile is so long"},
		"lists beyond all":    {"a = [" + strings.Repeat("1,", 256<<10), "line 1: more than 512 KiB: no profile is so long"},
	} {
		t.Run(name, func(t *testing.T) {
			err := input.CheckTOML([]byte(c.text))
			if c.err == "" {
				assert.NoError(t, err)
			} else {
				assert.EqualError(t, err, c.err)
			}
		})
	}
}

// FuzzCheckTOML passes to the parser any text that CheckTOML accepts. The keys have a
// bounded number of parts, and the parser allocates a bounded amount of memory.
func FuzzCheckTOML(f *testing.F) {
	f.Add([]byte("a.b = {c = [1, 2.5, {d.e = \"x\"}]}\n[t]\nx = '''\n'''' # y\n"))
	f.Add([]byte(deepKey))
	f.Add([]byte("a = {b = \"\"\"x\"\"\"\"\", c.c.c.c.c.c.c.c.c.c.c.c.c.c.c.c.c.c.c.c.c.c.c.c.c.c.c.c.c.c.c.c = 1}"))
	f.Add([]byte("a = " + strings.Repeat("[", 1000) + strings.Repeat("]", 1000)))
	f.Add([]byte("[\"a\\\".b\".c.'d'.e]\nf=1\n[[g]]\n[[g]]\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		if input.CheckTOML(data) != nil {
			return
		}
		// A table of 8 parts, and 8 inline tables with keys of 8 parts.
		const most = 8 + 9*8
		before := allocated()
		var into map[string]any
		meta, err := toml.Decode(string(data), &into)
		if n := allocated() - before; n > uint64(1<<20+2048*len(data)) {
			t.Fatalf("%d bytes allocated for %d", n, len(data))
		}
		if err != nil {
			return
		}
		for _, key := range meta.Keys() {
			if len(key) > most {
				t.Fatalf("a key of %d parts", len(key))
			}
		}
	})
}

func allocated() uint64 {
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return m.TotalAlloc
}

// The parser needs less than 128 MiB for the longest texts that CheckTOML accepts.
func TestTheLongestProfilesCostLittle(t *testing.T) {
	long := func(begin, unit, end string, most int) string {
		return begin + strings.Repeat(unit, (most-len(begin)-len(end))/len(unit)) + end
	}
	var keys strings.Builder
	for i := 0; keys.Len() < 63<<10; i++ {
		fmt.Fprintf(&keys, "k%d.a.a.a.a.a.a=1\n", i)
	}
	for name, text := range map[string]string{
		"numbers":     long("a=[", "1,", "]", 512<<10),
		"empty lists": long("a=[", "[],", "]", 512<<10),
		"tables":      long("", "[[a.a.a.a.a.a.a.a]]\n", "", 63<<10),
		"keys":        keys.String(),
	} {
		t.Run(name, func(t *testing.T) {
			require.NoError(t, input.CheckTOML([]byte(text)))
			before := allocated()
			var into map[string]any
			_, err := toml.Decode(text, &into)
			n := allocated() - before
			t.Log(n>>20, "MiB", err)
			assert.Less(t, n, uint64(128<<20))
		})
	}
}
