package plots

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"encoding/xml"
	"errors"
	"fmt"
	"hash/crc32"
	"regexp"
	"strconv"
	"strings"
	"unicode/utf16"

	"aplomb/analyze/measure"
	"aplomb/plots/words"
)

// metadata describes a picture for programs.
type metadata struct {
	title, description string
	software           string // with its version; "" where it is not known
	provenance         []byte // JSON; nil where there is none
}

// metadataOf returns the metadata of a picture: its description, whose first sentence is
// the title, and the provenance of its numbers, which may be nil.
func metadataOf(p Picture, from *measure.Provenance) (metadata, error) {
	m := metadata{description: plainText(p.Describe())}
	m.title, _, _ = strings.Cut(m.description, ". ")
	m.title = strings.TrimSuffix(m.title, ".")
	if from == nil {
		return m, nil
	}
	m.software = strings.TrimSpace("aplomb " + words.Software(from.Software))
	var err error
	m.provenance, err = json.Marshal(from)
	return m, err
}

// plainText returns a text without control characters, which PNG and PDF do not allow.
func plainText(text string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' || r >= 0x7F && r < 0xA0 {
			return -1
		}
		return r
	}, strings.ToValidUTF8(text, "�"))
}

// with returns a picture in a format with its metadata in it. It returns an error for a
// picture that is not of that format.
func (m metadata) with(picture []byte, format string) ([]byte, error) {
	switch format {
	case "svg":
		return m.withElements(picture)
	case "png":
		return m.withTextChunks(picture)
	case "pdf":
		return m.withInformation(picture)
	}
	return picture, nil
}

// withElements puts elements title, desc and metadata first into the svg element
// (Scalable Vector Graphics 1.1, W3C, sections 5.4 and 21.2). Provenance is JSON in an element
// of another namespace within metadata.
func (m metadata) withElements(svg []byte) ([]byte, error) {
	at := bytes.Index(svg, []byte("<svg"))
	if at < 0 {
		return nil, errors.New("no svg element")
	}
	at += bytes.IndexByte(svg[at:], '>') + 1
	var b bytes.Buffer
	b.Write(svg[:at])
	element := func(before, text, after string) (err error) {
		b.WriteString(before)
		err = xml.EscapeText(&b, []byte(text))
		b.WriteString(after)
		return err
	}
	err := errors.Join(element("\n<title>", m.title, "</title>"), element("\n<desc>", m.description, "</desc>"))
	if m.provenance != nil {
		err = errors.Join(err, element("\n<metadata><provenance xmlns=\"urn:aplomb:provenance\">", string(m.provenance), "</provenance></metadata>"))
	}
	b.Write(svg[at:])
	return b.Bytes(), err
}

// withTextChunks adds iTXt chunks, uncompressed and in no language, behind the header of a
// PNG: with the keywords Title, Description and Software of the standard, and provenance
// (Portable Network Graphics, third edition, W3C, section 11.3.3).
func (m metadata) withTextChunks(png []byte) ([]byte, error) {
	const signature, header = 8, 4 + 4 + 13 + 4 // bytes; IHDR has 13 of data between length, type and CRC
	if len(png) < signature+header {
		return nil, errors.New("no header of a PNG")
	}
	out := bytes.Clone(png[:signature+header])
	for _, text := range [][2]string{{"Title", m.title}, {"Description", m.description}, {"Software", m.software}, {"provenance", string(m.provenance)}} {
		if text[1] == "" {
			continue
		}
		chunk := []byte("iTXt" + text[0] + "\x00\x00\x00\x00\x00" + text[1])
		out = binary.BigEndian.AppendUint32(out, uint32(len(chunk)-4))
		out = append(out, chunk...)
		out = binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(chunk))
	}
	return append(out, png[signature+header:]...), nil
}

// The parts of a PDF with a table of cross-references (ISO 32000-1:2008, section 7.5).
var (
	startXref = regexp.MustCompile(`startxref\s+(\d+)\s+%%EOF\s*$`)
	xrefHead  = regexp.MustCompile(`^xref\s+0 (\d+)\s*\n`)
	infoOf    = regexp.MustCompile(`/Info (\d+) 0 R`)
)

const xrefEntry = 20 // bytes

// withInformation replaces the document information dictionary of a PDF by one with Title,
// Subject, Creator and Provenance (ISO 32000-1:2008, section 14.3.3, which allows further
// keys). The dictionary of the library has the time at which the file was written instead; without
// that the same picture has the same bytes. The offsets of what follows the dictionary move.
// The PDF must have a single table of cross-references.
func (m metadata) withInformation(pdf []byte) ([]byte, error) {
	end := startXref.FindSubmatchIndex(pdf)
	if end == nil {
		return nil, errors.New("no end of a PDF")
	}
	xref, err := strconv.Atoi(string(pdf[end[2]:end[3]]))
	if err != nil || xref >= end[0] {
		return nil, errors.New("no table of cross-references in the PDF")
	}
	head := xrefHead.FindSubmatchIndex(pdf[xref:])
	info := infoOf.FindSubmatch(pdf[xref:])
	if head == nil || info == nil {
		return nil, errors.New("no document information in the PDF")
	}
	n, _ := strconv.Atoi(string(pdf[xref+head[2] : xref+head[3]]))
	number, _ := strconv.Atoi(string(info[1]))
	table := xref + head[1]
	if number >= n || table+n*xrefEntry > end[0] {
		return nil, errors.New("the table of cross-references of the PDF is cut short")
	}
	offset := func(i int) int {
		v, _ := strconv.Atoi(string(pdf[table+i*xrefEntry : table+i*xrefEntry+10]))
		return v
	}
	from := offset(number)
	length := -1
	if from < xref {
		length = bytes.Index(pdf[from:xref], []byte("endobj"))
	}
	if length < 0 {
		return nil, errors.New("the document information of the PDF has no end")
	}
	object := m.informationObject(number)
	moved := len(object) - length
	var b bytes.Buffer
	b.Write(pdf[:from])
	b.Write(object)
	b.Write(pdf[from+length : table])
	for i := range n {
		entry := pdf[table+i*xrefEntry : table+(i+1)*xrefEntry]
		if at := offset(i); at > from {
			fmt.Fprintf(&b, "%010d%s", at+moved, entry[10:])
		} else {
			b.Write(entry)
		}
	}
	b.Write(pdf[table+n*xrefEntry : end[2]])
	b.WriteString(strconv.Itoa(xref + moved))
	b.Write(pdf[end[3]:])
	return b.Bytes(), nil
}

// informationObject returns the document information as an object of a PDF, up to its
// endobj. Texts are strings in UTF-16 with a byte order mark, in hexadecimal digits.
func (m metadata) informationObject(number int) []byte {
	var b bytes.Buffer
	fmt.Fprintf(&b, "%d 0 obj\n<<\n", number)
	for _, text := range [][2]string{{"Title", m.title}, {"Subject", m.description}, {"Creator", m.software}, {"Provenance", string(m.provenance)}} {
		if text[1] == "" {
			continue
		}
		fmt.Fprintf(&b, "/%s <FEFF", text[0])
		for _, unit := range utf16.Encode([]rune(text[1])) {
			fmt.Fprintf(&b, "%04X", unit)
		}
		b.WriteString(">\n")
	}
	b.WriteString(">>\n")
	return b.Bytes()
}
