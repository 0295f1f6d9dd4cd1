package recording

import (
	"encoding/binary"
	"hash/crc32"

	"github.com/foxglove/mcap/go/mcap"
	"google.golang.org/protobuf/encoding/protowire"
)

// A chunk has a checksum, but a message outside one has none, and after a power
// cut a page of the file that the disk never got reads as zeros: enough zeros
// for the counts of an unloaded strip. So in a .part every message ends in a
// seal: field 15, the CRC-32 of IEEE 802.3 of the message record before it. In
// the finished file the chunks' checksums take its place.
const (
	sealField = 15
	tagSeal   = sealField<<3 | byte(protowire.Fixed32Type)
	sealSize  = 1 + 4
)

// seal appends its seal to the data of m, whose other fields are as they will be written.
func seal(m *mcap.Message) {
	var header [messageHeader]byte
	binary.LittleEndian.PutUint16(header[0:], m.ChannelID)
	binary.LittleEndian.PutUint32(header[2:], m.Sequence)
	binary.LittleEndian.PutUint64(header[6:], m.LogTime)
	binary.LittleEndian.PutUint64(header[14:], m.PublishTime)
	sum := crc32.Update(crc32.ChecksumIEEE(header[:]), crc32.IEEETable, m.Data)
	m.Data = binary.LittleEndian.AppendUint32(append(m.Data, tagSeal), sum)
}

// unseal takes the seal off the content of a message record; false where there
// is none or it does not match.
func unseal(body []byte) ([]byte, bool) {
	at := len(body) - sealSize
	if at < messageHeader || body[at] != tagSeal {
		return nil, false
	}
	return body[:at], binary.LittleEndian.Uint32(body[at+1:]) == crc32.ChecksumIEEE(body[:at])
}
