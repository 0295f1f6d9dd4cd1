// Package wire turns the bytes on a strip's serial line, or in a file of
// comma-separated values, into frames and back. It knows nothing of ports.
//
// A line speaks one of two formats, and the Decoder finds out which.
//
// Binary ("strip link 1"): packets of COBS(body ‖ crc) followed by one zero
// byte, integers little-endian. The crc is the CRC-32 of IEEE 802.3 over the
// body. A body is
//
//	0x01 ‖ hello as JSON
//	0x02 ‖ foot u8 (0 left, 1 right) ‖ seq u16 ‖ t_us u32 ‖ counts u16 × rows·cols
//
// Text: a frame a line, t_us,c0,c1,… or without a clock c0,c1,…, separated by
// comma, semicolon, tab or spaces, optionally ending in *HH, the exclusive or
// of the bytes before the * in hex; a strip that ends one frame so ends all. A
// line "# " followed by the hello's JSON announces the strip; other lines that
// start with # are comments.
package wire
