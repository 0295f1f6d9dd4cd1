package wire_test

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"aplomb/device"
	"aplomb/device/internal/wiretest"
	"aplomb/device/wire"
)

func readCSV(r io.Reader, anchor int64) (out []device.Frame, err error) {
	c := wire.NewCSV(r, "f.csv", strip(device.Right, 1, 3), anchor)
	for {
		var f device.Frame
		if err := c.Next(&f); err == io.EOF {
			return out, nil
		} else if err != nil {
			return out, err
		}
		out = append(out, f)
	}
}

func TestCSV(t *testing.T) {
	for name, text := range map[string]string{
		"plain":      "t_us,c0,c1,c2\n0,1,2,3\n5000,4,5,4095\n",
		"no last LF": "t_us,c0,c1,c2\n0,1,2,3\n5000,4,5,4095",
		"semicolons": "\xEF\xBB\xBFt_us;c0;c1;c2\r\n0;1;2;3\r\n5000;4;5;4095\r\n\r\n",
		"tabs":       "# a comment\nt_us\tc0\tc1\tc2\n0\t1\t2\t3\n\n# another\n5000\t4\t5\t4095\n",
		"blanks":     " t_us , c0  c1, c2 \n 0  1, 2 ,3,\n5000 4 5 4095 \n",
		"quoted":     "\"t_us\",\"c0\",\"c1\",\"c2\"\n0,1,2,3\n5000,4,5,4095\n",
		"checksums":  "t_us,c0,c1,c2\n" + string(wiretest.AppendTextFrame(wiretest.AppendTextFrame(nil, 0, []uint16{1, 2, 3}, true), 5000, []uint16{4, 5, 4095}, true)),
	} {
		t.Run(name, func(t *testing.T) {
			for _, r := range []io.Reader{strings.NewReader(text), iotest.OneByteReader(strings.NewReader(text)), iotest.DataErrReader(strings.NewReader(text))} {
				got, err := readCSV(r, 1_000_000_007)
				require.NoError(t, err)
				require.Equal(t, []device.Frame{
					{Foot: device.Right, Seq: device.NoSeq, TimeUS: 0, ArrivalNS: 1_000_000_007, Counts: []uint16{1, 2, 3}},
					{Foot: device.Right, Seq: device.NoSeq, TimeUS: 5000, ArrivalNS: 1_005_000_007, Counts: []uint16{4, 5, 4095}},
				}, got)
			}
		})
	}
}

func TestCSVClockWraps(t *testing.T) {
	got, err := readCSV(strings.NewReader("t_us,c0,c1,c2\n4294967290,1,2,3\n4,1,2,3\n10,1,2,3\n"), 0)
	require.NoError(t, err)
	assert.Equal(t, []uint64{4294967290, 4294967300, 4294967306}, []uint64{got[0].TimeUS, got[1].TimeUS, got[2].TimeUS})
}

func TestCSVErrors(t *testing.T) {
	const head = "t_us,c0,c1,c2\n0,1,2,3\n"
	for _, c := range []struct {
		name, text, want string
		frames           int
	}{
		{"empty", "", "f.csv: empty: it should begin with the header t_us,c0,…,c2", 0},
		{"blank", "\n \n\r\n# c\n", "f.csv: empty: it should begin with the header t_us,c0,…,c2", 0},
		{"no header", "0,1,2,3\n", "f.csv:1: no header: the first line should read t_us,c0,…,c2", 0},
		{"wrong clock", "time,c0,c1,c2\n", `f.csv:1: header: column 1 is "time", should be t_us: the header is t_us,c0,…,c2`, 0},
		{"wrong order", "t_us,c0,c2,c1\n", `f.csv:1: header: column 3 is "c2", should be c1`, 0},
		{"another strip", "t_us,c0,c1\n0,1,2\n", "f.csv:1: header: 2 cells, but strip L-01 has 1 × 3 = 3", 0},
		{"only a header", "t_us,c0,c1,c2\n", "f.csv:1: a header and no frames under it", 0},
		{"not text", "\x00\x01\x02\xff\xfe\n", "f.csv:1: this is no text in UTF-8: save the table as CSV in UTF-8, with the header t_us,c0,…,c2", 0},
		{"UTF-16", "\xff\xfet\x00_\x00u\x00s\x00\n\x00", "f.csv:1: this is no text in UTF-8", 0},
		{"never written", head + strings.Repeat("\x00", 40), "f.csv:3: bytes that are no text: copy the file again", 1},
		{"decimal commas", "t_us;c0;c1;c2\n0;1;2;3\n5000;4,5;5;6\n", `f.csv:3: c0 is "4,5": not a whole number`, 1},
		{"decimal commas and blanks", "t_us;c0;c1;c2\r\n0; 1; 2; 3,5\r\n", `f.csv:2: c2 is "3,5": not a whole number`, 0},
		{"short row", head + "5000,1,2\n", "f.csv:3: 3 numbers, should be 4 (t_us and 3 cells)", 1},
		{"cut short", head + "5000,1", "f.csv:3: 2 numbers, should be 4", 1},
		{"long row", head + "5000,1,2,3,4\n", "f.csv:3: 5 numbers, should be 4", 1},
		{"letters", head + "5000,1,two,3\n", `f.csv:3: c1 is "two": not a whole number`, 1},
		{"letters after digits", head + "5000,1,2x,3\n", `f.csv:3: c1 is "2x": not a whole number`, 1},
		{"a decimal", head + "5000,1,2.5,3\n", `f.csv:3: c1 is "2.5": not a whole number`, 1},
		{"letters in time", head + "12:30,1,2,3\n", `f.csv:3: t_us is "12:30": not a whole number of microseconds`, 1},
		{"empty cell", head + "5000,1,,3\n", "f.csv:3: c1 is empty", 1},
		{"negative", head + "5000,1,2,-3\n", `f.csv:3: c2 is "-3": negative`, 1},
		{"above 12 bits", head + "5000,4096,2,3\n", `f.csv:3: c0 is "4096": above 4095, the range of the 12 bits (adc_bits) of strip L-01`, 1},
		{"overflow", head + "5000,1,99999999999999999999999999999999,3\n", `f.csv:3: c1 is "999999999999999999999999…": above 4095`, 1},
		{"overflowing time", head + "18446744073709551616,1,2,3\n", `f.csv:3: t_us is "18446744073709551616": too large`, 1},
		{"time beyond reason", head + "18446744073709551615,1,2,3\n", "f.csv:3: t_us 18446744073709551615 is too large", 1},
		{"backwards", head + "5000,1,2,3\n\n4000,1,2,3\n", "f.csv:5: t_us goes back from 5000 to 4000", 2},
		{"standing still", head + "0,1,2,3\n", "f.csv:3: t_us 0 is that of the row before", 1},
		{"backwards by a lot", head + "4000000000,1,2,3\n0,1,2,3\n", "f.csv:4: t_us goes back from 4000000000 to 0", 2},
		{"checksum", head + "5000,1,2,3*00\n", "f.csv:3: the checksum *00 does not fit the line", 1},
		{"endless line", head + strings.Repeat("1", 300_000), "f.csv:3: a line of more than 32768 bytes", 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := readCSV(strings.NewReader(c.text), 0)
			require.ErrorContains(t, err, c.want)
			assert.NotContains(t, err.Error(), "\n")
			assert.Len(t, got, c.frames, "frames before the error")
		})
	}
	broken := errors.New("disk gone")
	_, err := readCSV(io.MultiReader(strings.NewReader(head), iotest.ErrReader(broken)), 0)
	require.ErrorIs(t, err, broken)
	assert.ErrorContains(t, err, "f.csv: after line 2")
}

func TestCSVRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := []byte("t_us,c0,c1,c2\n")
		var want []device.Frame
		us := uint64(rapid.Uint32().Draw(t, "start"))
		for range rapid.IntRange(1, 40).Draw(t, "rows") {
			counts := rapid.SliceOfN(rapid.Uint16Max(4095), 3, 3).Draw(t, "counts")
			text = wiretest.AppendTextFrame(text, us, counts, rapid.Bool().Draw(t, "checksum"))
			want = append(want, device.Frame{Foot: device.Right, Seq: device.NoSeq, TimeUS: us, ArrivalNS: int64(us) * 1000, Counts: counts})
			us += uint64(rapid.IntRange(1, 1<<40).Draw(t, "step"))
		}
		got, err := readCSV(bytes.NewReader(text), 0)
		require.NoError(t, err)
		require.Equal(t, want, got)
	})
}

func TestCSVAllocatesNothingForARow(t *testing.T) {
	text := []byte("t_us,c0,c1,c2\n")
	for i := range 20_000 {
		text = wiretest.AppendTextFrame(text, uint64(i), []uint16{1, 22, 333}, false)
	}
	c := wire.NewCSV(bytes.NewReader(text), "f.csv", strip(device.Left, 1, 3), 0)
	var f device.Frame
	require.NoError(t, c.Next(&f))
	assert.Zero(t, testing.AllocsPerRun(15_000, func() {
		if err := c.Next(&f); err != nil {
			panic(err)
		}
	}))
}

// A file that CSV accepts is accepted by a simple reader too, with the same numbers.
func FuzzCSV(f *testing.F) {
	f.Add([]byte("t_us,c0,c1,c2\n0,1,2,3\n5000,4,5,4095\n"))
	f.Add([]byte("\xEF\xBB\xBFt_us;c0;c1;c2\r\n# x\n0;1;2;3;\r\n7\t8 9 , 10*00\n"))
	f.Add([]byte("t_us,c0,c1,c2\n00000000000,0000000001,2,3\n5000,4,5,40950\n"))
	f.Fuzz(func(t *testing.T, b []byte) {
		all, err := readCSV(bytes.NewReader(b), 0)
		if err != nil {
			require.NotContains(t, err.Error(), "\n")
			require.True(t, strings.HasPrefix(err.Error(), "f.csv:"), err)
		}
		again, err2 := readCSV(iotest.HalfReader(bytes.NewReader(b)), 0)
		require.Equal(t, all, again)
		require.Equal(t, fmt.Sprint(err), fmt.Sprint(err2))

		rows := plainRows(string(b))
		for i, f := range all {
			require.Equal(t, rows[i][1:], []uint64{uint64(f.Counts[0]), uint64(f.Counts[1]), uint64(f.Counts[2])})
			require.Equal(t, uint32(rows[i][0]), uint32(f.TimeUS))
			if i > 0 {
				require.Greater(t, f.TimeUS, all[i-1].TimeUS)
			}
		}
	})
}

// plainRows reads the lines after the header with the standard library.
func plainRows(text string) (rows [][]uint64) {
	for _, line := range strings.Split(text, "\n") {
		line, _, _ = strings.Cut(strings.Trim(line, " \t\r"), "*")
		if line == "" || line[0] == '#' {
			continue
		}
		var row []uint64
		for _, s := range strings.FieldsFunc(line, func(r rune) bool { return strings.ContainsRune(",; \t", r) }) {
			var v uint64
			fmt.Sscan(strings.TrimLeft(s[:len(s)-1], "0")+s[len(s)-1:], &v) // Sscan reads a leading 0 as octal
			row = append(row, v)
		}
		rows = append(rows, row)
	}
	return rows[min(1, len(rows)):]
}
