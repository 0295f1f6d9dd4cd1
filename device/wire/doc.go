// Package wire encodes and decodes the frames of a strip as bytes on a serial line
// and as a file of comma-separated values. It opens no ports.
//
// A line is in one of two formats, and the Decoder detects which.
//
// Binary ("strip link 1"): packets of COBS(body ‖ crc) followed by one zero
// byte, integers little-endian. The crc is the CRC-32 of IEEE 802.3 over the
// body. A body is
//
//	0x01 ‖ hello as JSON
//	0x02 ‖ foot u8 (0 left, 1 right) ‖ seq u16 ‖ t_us u32 ‖ counts u16 × rows·cols
//
// Text: one frame on each line, t_us,c0,c1,… or without a clock c0,c1,…, separated by
// comma, semicolon, tab or spaces. A line may end in *HH, the exclusive or of the
// bytes before the * in hex; a strip then ends every frame so. A line "# " followed
// by the JSON of a hello announces the strip; other lines that start with # are
// comments.
package wire
