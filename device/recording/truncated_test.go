package recording_test

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"aplomb/device"
	"aplomb/device/recording"
)

// The streaming reader of @mcap/core with protobufjs reads the same frames as this
// package from truncated files, some of which end in zeros.
func TestTruncatedReadByJavaScript(t *testing.T) {
	readback := javaScript(t)
	frames := releves(7.5*400, 40)[5.5*400:] // the first without load, the last under load
	for name, b := range map[string][]byte{"part": part(t, frames, 40), "closed": closed(t, frames, 40)} {
		t.Run(name, func(t *testing.T) {
			var cuts []string
			var files [][]byte
			for at := 0; at <= len(b); at += max(len(b)/60, 1) {
				cuts, files = append(cuts, fmt.Sprint(at)), append(files, b[:at])
			}
			cuts, files = append(cuts, fmt.Sprint(len(b))), append(files, b)
			cutOnly := len(files)
			// Zeros between two records are empty records of an unknown kind, which readers
			// skip. In the finished file these places are inside chunks. Where they are in a
			// .part depends on who writes it, and there zeros can be valid content of a
			// message: those places are moved to the beginning of one.
			for _, at := range []int{len(b) / 4, len(b) / 3, len(b)/2 + 50, len(b)*3/4 + 50} {
				if name == "part" {
					at = afterKind(b, at)
				}
				n := len(b) - at // the length had reached the disk, but not the content
				cuts = append(cuts, fmt.Sprintf("%d+%d", at, n))
				files = append(files, append(b[:at:at], make([]byte, n)...))
			}
			path := tempFile(t)
			require.NoError(t, os.WriteFile(path, b, 0o666))
			var theirs []struct {
				Frames  int
				SHA256  string
				Refused string
				Whole   bool
			}
			require.NoError(t, json.Unmarshal(readback("truncated.mjs", append([]string{path}, cuts...)...), &theirs))
			require.Len(t, theirs, len(files))

			digests, refusals := digestsOf(frames), map[string]int{}
			for i, their := range theirs {
				got, _, err := readBytes(t, path, files[i])
				if i < cutOnly {
					require.False(t, errors.As(err, new(*recording.Damage)), "cut at %s: %v", cuts[i], err)
					require.Empty(t, their.Refused, "cut at %s", cuts[i])
				} else {
					require.NotEmpty(t, their.Refused, "cut at %s", cuts[i])
					refusals[strings.SplitN(their.Refused, " [", 2)[0]]++
				}
				require.LessOrEqual(t, len(got), len(frames))
				same(t, frames[:len(got)], got)
				require.Equal(t, len(got), their.Frames, "cut at %s", cuts[i])
				require.Equal(t, digests[len(got)], their.SHA256, "cut at %s", cuts[i])
				require.Equal(t, name == "closed" && cuts[i] == fmt.Sprint(len(b)), their.Whole, "cut at %s", cuts[i])
			}
			t.Logf("%s: %d cuts read alike, none refused; of %d that go on in zeros the same frames, and it says %v", name, cutOnly, len(files)-cutOnly, refusals)
		})
	}
}

// afterKind returns the first position from at on that is directly after the opcode of a
// record of the recording b: zeros from there on give a record of that kind without
// content, which is valid for no kind.
func afterKind(b []byte, at int) int {
	const magic, head = 8, 9
	start := magic
	for start < at {
		start += head + int(binary.LittleEndian.Uint64(b[start+1:]))
	}
	return start + 1
}

// digestsOf returns for every n the SHA-256 of the first n frames, in the form of
// truncated.mjs.
func digestsOf(frames []device.Frame) (digests []string) {
	h := sha256.New()
	for i := range frames {
		digests = append(digests, hex.EncodeToString(h.Sum(nil)))
		f := &frames[i]
		counts := strings.Trim(strings.ReplaceAll(fmt.Sprint(f.Counts), " ", ","), "[]")
		fmt.Fprintf(h, "%s %d %d %d %s\n", f.Foot, f.TimeUS, f.ArrivalNS, f.Seq, counts)
	}
	return append(digests, hex.EncodeToString(h.Sum(nil)))
}
