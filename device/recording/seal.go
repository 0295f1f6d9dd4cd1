package recording

import (
	"encoding/binary"
	"hash/crc32"

	"github.com/foxglove/mcap/go/mcap"
	"google.golang.org/protobuf/encoding/protowire"
)

// A seal is a checksum at the end of every message of a .part: field 15, the CRC-32 of
// IEEE 802.3 over the message record before it. MCAP has checksums for chunks only, and a
// .part has no chunks. After a power cut a page of the file that never reached the disk
// reads as zeros, which look like the counts of an unloaded strip. The finished file uses
// the checksums of its chunks instead.
const (
	sealField = 15
	tagSeal   = sealField<<3 | byte(protowire.Fixed32Type)
	sealSize  = 1 + 4
)

// seal appends to the data of m its seal. All other fields of m must be set.
func seal(m *mcap.Message) {
	var header [messageHeader]byte
	binary.LittleEndian.PutUint16(header[0:], m.ChannelID)
	binary.LittleEndian.PutUint32(header[2:], m.Sequence)
	binary.LittleEndian.PutUint64(header[6:], m.LogTime)
	binary.LittleEndian.PutUint64(header[14:], m.PublishTime)
	sum := crc32.Update(crc32.ChecksumIEEE(header[:]), crc32.IEEETable, m.Data)
	m.Data = binary.LittleEndian.AppendUint32(append(m.Data, tagSeal), sum)
}

// unseal returns the content of a message record without its seal, and false
// where there is no seal or it does not match.
func unseal(body []byte) ([]byte, bool) {
	at := len(body) - sealSize
	if at < messageHeader || body[at] != tagSeal {
		return nil, false
	}
	return body[:at], binary.LittleEndian.Uint32(body[at+1:]) == crc32.ChecksumIEEE(body[:at])
}
