package plots_test

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"encoding/xml"
	"hash/crc32"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/measure"
	"aplomb/plots"
	"aplomb/plots/internal/exampledata"
)

// awkward is what a title, a description or a file name may contain.
const awkward = `<&"]]> (b\) --> é鞋`

// described returns a picture and a provenance with awkward characters in their texts.
func described() (*plots.Wear, *measure.Provenance) {
	c := exampledata.Usual().Comparison
	from := *c.Provenance
	from.Inputs[0].File = awkward + ".mcap"
	p := plots.NewWears(c)[0]
	p.Row.Title = "Shoe " + awkward + "\x00\n"
	return p, &from
}

func saved(t *testing.T, format string) (data []byte, p *plots.Wear, from *measure.Provenance) {
	t.Helper()
	p, from = described()
	var b bytes.Buffer
	require.NoError(t, plots.Write(&b, p, format, from))
	return b.Bytes(), p, from
}

// checkMetadata compares what a reader found with what was written.
func checkMetadata(t *testing.T, title, description, provenance string, p plots.Picture, from *measure.Provenance) {
	t.Helper()
	assert.Equal(t, strings.NewReplacer("\x00", "", "\n", "").Replace(p.Describe()), description)
	assert.Equal(t, "Shoe "+awkward+": the centres of pressure of all relevés on the platform", title)
	var got measure.Provenance
	require.NoError(t, json.Unmarshal([]byte(provenance), &got))
	assert.Equal(t, *from, got)
}

func TestMetadataOfSVG(t *testing.T) {
	data, p, from := saved(t, "svg")
	var document struct {
		Title      string `xml:"title"`
		Desc       string `xml:"desc"`
		Provenance string `xml:"metadata>provenance"`
	}
	require.NoError(t, xml.Unmarshal(data, &document))
	checkMetadata(t, document.Title, document.Desc, document.Provenance, p, from)
	assert.NotContains(t, string(data), "<!--")
	assert.Regexp(t, regexp.MustCompile(`^<\?xml[^>]*>\s*<svg [^>]*>\s*<title>`), string(data), "title is the first child")
	assert.NotRegexp(t, `(?i)svgo|plotinum|gonum`, string(data))
}

func TestMetadataOfPNG(t *testing.T) {
	data, p, from := saved(t, "png")
	_, err := png.Decode(bytes.NewReader(data))
	require.NoError(t, err)
	texts := map[string]string{}
	for rest := string(data[8:]); len(rest) > 0; {
		n := binary.BigEndian.Uint32([]byte(rest))
		kind, body := rest[4:8], rest[8:8+n]
		require.Equal(t, crc32.ChecksumIEEE([]byte(kind+body)), binary.BigEndian.Uint32([]byte(rest[8+n:])), kind)
		if kind == "iTXt" {
			keyword, text, ok := strings.Cut(body, "\x00\x00\x00\x00\x00")
			require.True(t, ok)
			texts[keyword] = text
		}
		rest = rest[12+n:]
	}
	checkMetadata(t, texts["Title"], texts["Description"], texts["provenance"], p, from)
	assert.Equal(t, "aplomb 0.1.0 (commit 5a72c400)", texts["Software"])
}

// pdfinfo of poppler reads the written metadata and finds the page valid.
func TestMetadataOfPDF(t *testing.T) {
	if _, err := exec.LookPath("pdfinfo"); err != nil {
		t.Skip("no pdfinfo here: .ci/run installs it")
	}
	data, p, from := saved(t, "pdf")
	path := filepath.Join(t.TempDir(), "wear.pdf")
	require.NoError(t, os.WriteFile(path, data, 0o600))
	read := func(arguments ...string) string {
		out, err := exec.Command("pdfinfo", append(append([]string{"-enc", "UTF-8"}, arguments...), path)...).CombinedOutput()
		require.NoError(t, err, "%s", out)
		assert.NotContains(t, string(out), "Error", "poppler repairs what it cannot read")
		return string(out)
	}
	found := map[string]string{}
	for _, m := range regexp.MustCompile(`(?m)^(\w+): +(.*)$`).FindAllStringSubmatch(read()+read("-custom"), -1) {
		found[m[1]] = m[2]
	}
	checkMetadata(t, found["Title"], found["Subject"], found["Provenance"], p, from)
	assert.Equal(t, "aplomb 0.1.0 (commit 5a72c400)", found["Creator"])
	assert.Equal(t, "1", found["Pages"])
	for _, no := range []string{"CreationDate", "ModDate", "Producer"} {
		assert.NotContains(t, found, no)
	}
}

// The same picture has the same bytes in every format at any time of writing: a PDF
// contains no time and no other identity of the file.
func TestPicturesHaveFixedBytes(t *testing.T) {
	for _, format := range plots.Formats {
		a, _, _ := saved(t, format)
		b, _, _ := saved(t, format)
		assert.True(t, bytes.Equal(a, b), format)
		if format == "pdf" {
			assert.NotRegexp(t, `/CreationDate|/ModDate|/ID|\(D:\d`, string(a))
		}
	}
}

// The offsets of a PDF's table of cross-references are those of its objects.
func TestOffsetsOfPDF(t *testing.T) {
	data, _, _ := saved(t, "pdf")
	at := regexp.MustCompile(`startxref\n(\d+)\n%%EOF\n$`).FindSubmatch(data)
	require.NotNil(t, at)
	table := string(data[number(t, at[1]):])
	require.True(t, strings.HasPrefix(table, "xref\n0 "))
	entries := regexp.MustCompile(`(?m)^(\d{10}) 00000 n $`).FindAllStringSubmatch(table, -1)
	require.Greater(t, len(entries), 5)
	for i, e := range entries {
		assert.Regexp(t, `^(\d+) 0 obj`, string(data[number(t, []byte(e[1])):][:12]))
		assert.True(t, bytes.HasPrefix(data[number(t, []byte(e[1])):], []byte(string(rune('1'+i))+" 0 obj")), "object %d", i+1)
	}
}

func number(t *testing.T, digits []byte) (n int) {
	t.Helper()
	require.NoError(t, json.Unmarshal(bytes.TrimLeft(digits, "0"), &n))
	return n
}

// Bytes that are no PDF with document information give an error, never a broken file.
func TestInformationOfNoPDF(t *testing.T) {
	data, _, _ := saved(t, "pdf")
	for _, bad := range []string{
		"", "%PDF-1.4\n", "startxref\n9\n%%EOF\n", "startxref\n99999999999999999999\n%%EOF\n",
		"xref\n0 1\n0000000000 65535 f \ntrailer <</Root 1 0 R>>\nstartxref\n0\n%%EOF\n",
		"xref\n0 1\n0000000000 65535 f \ntrailer <</Info 7 0 R>>\nstartxref\n0\n%%EOF\n",
		"xref\n0 2\n0000000000 65535 f \n9999999999 00000 n \ntrailer <</Info 1 0 R>>\nstartxref\n0\n%%EOF\n",
		strings.Replace(string(data), "/Info", "/Inof", 1),
	} {
		_, err := plots.WithInformation([]byte(bad))
		assert.Error(t, err, "%.40q", bad)
	}
}

// A page embeds a picture as an element without the parts that the page has itself.
func TestElementOfAPage(t *testing.T) {
	p, _ := described()
	var b strings.Builder
	require.NoError(t, plots.WriteElement(&b, p))
	assert.True(t, strings.HasPrefix(b.String(), "<svg "))
	for _, no := range []string{"<?xml", "<!--", "<title", "<desc", "<metadata"} {
		assert.NotContains(t, b.String(), no)
	}
	assert.Error(t, plots.WriteElement(failingWriter{os.ErrClosed}, p))
}
