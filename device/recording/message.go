package recording

import (
	"errors"
	"math"
	"math/bits"
	"strings"

	"google.golang.org/protobuf/encoding/protowire"

	"aplomb/device"
)

// Frames are encoded and decoded without the protobuf library, which allocates
// memory for every message.

// The tags of aplomb.Frame: field number times 8 plus wire type.
const (
	tagTime    = 1<<3 | byte(protowire.VarintType)
	tagArrival = 2<<3 | byte(protowire.VarintType)
	tagSeq     = 3<<3 | byte(protowire.VarintType)
	tagCounts  = 4<<3 | byte(protowire.BytesType)
	tagRestart = 5<<3 | byte(protowire.VarintType)
)

// appendFrame appends f as an aplomb.Frame in the encoding of proto3.
func appendFrame(b []byte, f *device.Frame) []byte {
	if f.TimeUS != 0 {
		b = protowire.AppendVarint(append(b, tagTime), f.TimeUS)
	}
	if f.ArrivalNS != 0 {
		b = protowire.AppendVarint(append(b, tagArrival), uint64(f.ArrivalNS))
	}
	if f.Seq != device.NoSeq {
		b = protowire.AppendVarint(append(b, tagSeq), uint64(f.Seq))
	}
	b = appendPacked(b, f.Counts)
	if f.Restarted {
		b = append(b, tagRestart, 1)
	}
	return b
}

// appendPacked appends counts as the packed field of an aplomb.Frame.
func appendPacked(b []byte, counts []uint16) []byte {
	if len(counts) == 0 {
		return b
	}
	size := 0
	for _, c := range counts {
		size += (bits.Len16(c|1) + 6) / 7
	}
	b = protowire.AppendVarint(append(b, tagCounts), uint64(size))
	for _, c := range counts {
		switch {
		case c < 1<<7:
			b = append(b, byte(c))
		case c < 1<<14:
			b = append(b, byte(c)|0x80, byte(c>>7))
		default:
			b = append(b, byte(c)|0x80, byte(c>>7)|0x80, byte(c>>14))
		}
	}
	return b
}

// errMessage means that a message is not one of the format.
var errMessage = errors.New("a message that cannot be decoded")

// decodeFrame reads an aplomb.Frame of the given number of cells into f, except
// the foot, which the channel tells. It reuses f.Counts.
func decodeFrame(b []byte, cells int, f *device.Frame) error {
	f.TimeUS, f.ArrivalNS, f.Seq, f.Restarted = 0, 0, device.NoSeq, false
	if cap(f.Counts) < cells {
		f.Counts = make([]uint16, 0, cells)
	}
	f.Counts = f.Counts[:0]
	for len(b) > 0 {
		tag := b[0]
		switch tag {
		case tagTime, tagArrival, tagSeq, tagRestart:
			v, n := protowire.ConsumeVarint(b[1:])
			if n < 0 || (tag == tagArrival || tag == tagSeq) && v > math.MaxInt64 {
				return errMessage
			}
			switch tag {
			case tagTime:
				f.TimeUS = v
			case tagArrival:
				f.ArrivalNS = int64(v)
			case tagSeq:
				f.Seq = int64(v)
			case tagRestart:
				f.Restarted = v != 0
			}
			b = b[1+n:]
		case tagCounts:
			packed, n := protowire.ConsumeBytes(b[1:])
			if n < 0 {
				return errMessage
			}
			var ok bool
			if f.Counts, ok = appendCounts(f.Counts, packed, cells); !ok {
				return errMessage
			}
			b = b[1+n:]
		default: // a field of a later version
			_, _, n := protowire.ConsumeField(b)
			if n < 0 {
				return errMessage
			}
			b = b[n:]
		}
	}
	if len(f.Counts) != cells {
		return errMessage
	}
	return nil
}

// appendCounts decodes packed counts and appends them to counts. It returns false
// where they become more than limit, or where b is no list of counts.
func appendCounts(counts []uint16, b []byte, limit int) ([]uint16, bool) {
	for len(b) > 0 && len(counts) < limit {
		v, size := uint64(b[0]), 1
		switch {
		case v < 0x80:
		case len(b) > 1 && b[1] < 0x80:
			v, size = v&0x7f|uint64(b[1])<<7, 2
		default:
			if v, size = protowire.ConsumeVarint(b); size < 0 || v > math.MaxUint16 {
				return nil, false
			}
		}
		counts = append(counts, uint16(v))
		b = b[size:]
	}
	return counts, len(b) == 0
}

// appendEvent appends e as an aplomb.Event.
func appendEvent(b []byte, e *device.Event) []byte {
	if e.TimeNS != 0 {
		b = protowire.AppendVarint(protowire.AppendTag(b, 1, protowire.VarintType), uint64(e.TimeNS))
	}
	b = appendString(b, 2, e.Foot.String())
	b = appendString(b, 3, string(e.Kind))
	b = appendString(b, 4, e.Cause)
	if e.LengthS != 0 {
		b = protowire.AppendFixed64(protowire.AppendTag(b, 5, protowire.Fixed64Type), math.Float64bits(e.LengthS))
	}
	return appendString(b, 6, e.Text)
}

func appendString(b []byte, field protowire.Number, s string) []byte {
	if s == "" {
		return b
	}
	// A string of protobuf is UTF-8; a reader may refuse the message otherwise.
	return protowire.AppendString(protowire.AppendTag(b, field, protowire.BytesType), strings.ToValidUTF8(s, "\uFFFD"))
}

// decodeEvent reads an aplomb.Event. Its times are possible.
func decodeEvent(b []byte) (e device.Event, err error) {
	e.Foot = device.NoFoot
	for len(b) > 0 {
		field, wire, n := protowire.ConsumeTag(b)
		if n < 0 {
			return e, errMessage
		}
		value := b[n:]
		size := protowire.ConsumeFieldValue(field, wire, value)
		if size < 0 {
			return e, errMessage
		}
		b = value[size:]
		switch {
		case field == 1 && wire == protowire.VarintType:
			v, _ := protowire.ConsumeVarint(value)
			e.TimeNS = int64(v)
		case field == 5 && wire == protowire.Fixed64Type:
			v, _ := protowire.ConsumeFixed64(value)
			e.LengthS = math.Float64frombits(v)
		case wire == protowire.BytesType:
			s, _ := protowire.ConsumeString(value)
			switch field {
			case 2:
				if e.Foot, err = device.ParseFoot(s); err != nil {
					return e, errMessage
				}
			case 3:
				e.Kind = device.EventKind(s)
			case 4:
				e.Cause = s
			case 6:
				e.Text = s
			}
		}
	}
	return e, e.Check()
}
