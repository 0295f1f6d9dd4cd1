package plots

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"encoding/xml"
	"hash/crc32"

	"aplomb/analyze/measure"
)

// withProvenance returns a picture in a format with the provenance of its numbers
// in it, as JSON: an SVG in its element metadata, a PNG in a text chunk with the
// keyword provenance. A PDF stays as it is, because the library that writes it has
// no place for more.
func withProvenance(picture []byte, format string, p *measure.Provenance) ([]byte, error) {
	if p == nil {
		return picture, nil
	}
	text, err := json.Marshal(p)
	if err != nil {
		return nil, err
	}
	switch format {
	case "svg":
		return withMetadata(picture, text)
	case "png":
		return withTextChunk(picture, text), nil
	}
	return picture, nil
}

// withMetadata puts text into an element metadata, which comes first in the svg
// element and holds an element of another namespace (Scalable Vector Graphics 1.1,
// W3C, chapter 21).
func withMetadata(svg, text []byte) ([]byte, error) {
	var escaped bytes.Buffer
	if err := xml.EscapeText(&escaped, text); err != nil {
		return nil, err
	}
	at := bytes.Index(svg, []byte("<svg"))
	at += bytes.IndexByte(svg[at:], '>') + 1
	return bytes.Join([][]byte{svg[:at], []byte("\n<metadata><provenance xmlns=\"urn:aplomb:provenance\">"), escaped.Bytes(), []byte("</provenance></metadata>"), svg[at:]}, nil), nil
}

// withTextChunk adds an iTXt chunk, uncompressed and in no language, behind the
// header of a PNG (https://www.w3.org/TR/png/#11iTXt).
func withTextChunk(png, text []byte) []byte {
	const signature, header = 8, 4 + 4 + 13 + 4 // bytes; IHDR has 13 of data between length, type and CRC
	chunk := append([]byte("iTXtprovenance\x00\x00\x00\x00\x00"), text...)
	framed := binary.BigEndian.AppendUint32(nil, uint32(len(chunk)-4))
	framed = append(framed, chunk...)
	framed = binary.BigEndian.AppendUint32(framed, crc32.ChecksumIEEE(chunk))
	return bytes.Join([][]byte{png[:signature+header], framed, png[signature+header:]}, nil)
}
