package plots_test

import (
	"encoding/binary"
	"encoding/json"
	"encoding/xml"
	"hash/crc32"
	"image/png"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/measure"
	"aplomb/plots"
	"aplomb/plots/internal/exampledata"
)

// A picture that is saved carries the provenance of its numbers, and is still one.
func TestPicturesCarryTheirProvenance(t *testing.T) {
	c := exampledata.Usual().Comparison
	from := *c.Provenance
	from.Inputs[0].File = `<&"]]>.mcap`
	p := plots.NewPlatforms(c)
	saved := func(format string) string {
		var b strings.Builder
		require.NoError(t, plots.Write(&b, p, format, &from))
		return b.String()
	}
	same := func(text string) {
		var got measure.Provenance
		require.NoError(t, json.Unmarshal([]byte(text), &got))
		assert.Equal(t, from, got)
	}
	t.Run("svg", func(t *testing.T) {
		var document struct {
			Metadata string `xml:"metadata>provenance"`
		}
		require.NoError(t, xml.Unmarshal([]byte(saved("svg")), &document))
		same(document.Metadata)
	})
	t.Run("png", func(t *testing.T) {
		data := saved("png")
		_, err := png.Decode(strings.NewReader(data))
		require.NoError(t, err)
		for rest := data[8:]; len(rest) > 0; {
			n := binary.BigEndian.Uint32([]byte(rest))
			kind, body := rest[4:8], rest[8:8+n]
			require.Equal(t, crc32.ChecksumIEEE([]byte(kind+body)), binary.BigEndian.Uint32([]byte(rest[8+n:])), kind)
			rest = rest[12+n:]
			if kind == "iTXt" {
				text, ok := strings.CutPrefix(body, "provenance\x00\x00\x00\x00\x00")
				require.True(t, ok)
				same(text)
				return
			}
		}
		require.Fail(t, "no chunk of text")
	})
	t.Run("pdf", func(t *testing.T) { assert.True(t, strings.HasPrefix(saved("pdf"), "%PDF-")) })
}
