// Package recording writes frames into a file and reads them back.
//
// A recording is an MCAP file (https://mcap.dev/spec), so that any MCAP reader
// opens it without this program:
//
//   - The profile of the header is "aplomb".
//   - Metadata records at the beginning describe the recording: "recording"
//     (dancer, time, conditions), and "left" and "right" with the strip and the
//     shoe of that foot, each in the TOML of its own file, the mounting and, where
//     somebody said them: the fixing, how the strip is fixed to the shoe, in words;
//     the mark, 1 or 2, of the physical shoe in its pair; and the padding, what is
//     between foot and shoe in this recording, in words.
//   - Conditions are support, rise, position, floor and feedback: none, after or
//     live, which is what the dancer sees of the numbers. Absent means
//     unknown.
//   - A metadata record "logbook" holds the number of the recording in its logbook,
//     under the key number. In a finished file it stands behind all messages, and the
//     summary has its index; in a .part it stands behind the description. Of several
//     the last one counts. Absent means that no logbook has taken in the file.
//   - The channels "left" and "right" hold aplomb.Frame messages and "events"
//     aplomb.Event messages, in protobuf. The schema records hold the descriptors.
//   - The log time of a message is when it was recorded: for a frame its arrival,
//     for an event the latest time known when it was written. The publish time
//     is when it happened. Both are ns since 1970.
//
// While it is being made, a live recording is FILE.mcap.part: unchunked, every
// message with a checksum of its own (the field seal), put on the disk every half
// second. A crash of the program costs at most half a second of it, a power cut at
// most half a second plus the time that putting it on the disk takes: together a
// second where that takes no longer than half of one. Its process holds a lock on it
// (package lock), and a metadata record "writer" in it names that process: process is
// its number, program_started and since are times.
//
// When a live recording is closed, all messages are written in order of log time
// to a second file, in chunks compressed with zstd, each with its checksum. A chunk
// ends after a second, or at 1 MiB before compression. That file is named FILE.mcap
// once it is on the disk, never in place of another file, and then the .part is
// removed. Where a crash leaves both, FILE.mcap is complete.
//
// Wrong metadata of a recording are corrected in a file beside it, which
// package correction describes. Frames, id and bytes of the recording stay.
//
// # Damage
//
// A reader leaves out a chunk whose checksum does not match, and in a .part a message
// whose seal does not. It continues at the next one whose checksum matches, wherever
// that begins. The omitted part is a gap of both feet with the cause Damaged, and the
// next frame of each foot has AfterLoss set. Such a recording has no id, nor has one
// that was cut short after it was finished: it is not what was recorded. Where only
// bytes are damaged that hold no message, such as those of an index, nothing is left
// out. Where the checksum of all bytes shows damage that no other checksum finds,
// nothing can be relied on and reading is an error: in files whose chunks have no
// checksums, and in those of the first version where the damage may be in the
// description.
//
// The key checksum of the metadata record "recording" protects the description: the
// CRC-32 of IEEE 802.3 in eight hexadecimal digits. It is taken over the metadata
// records recording, left and right in this order, those that are there: for each its
// name, then the keys in the order of their bytes, each followed by its value, without
// the key checksum itself. Every one of these strings is preceded by its length as an
// unsigned 32-bit little-endian integer. A file in which it does not match is refused.
// Recordings of the first version have no such key.
//
// # Identity
//
// The id of a recording is derived from its frames and events alone. Metadata,
// file name, compression, chunks and the order in which channels interleave do
// not change it, so a .part and the finished file made of it have the same id. It
// is not stored in the file. To compute it:
//
//  1. For each of the topics left, right and events, in this order, take the
//     SHA-256 over all messages of the channel with that topic and the encoding
//     protobuf, in the order of the file: for each message the length of its data
//     as an unsigned 32-bit little-endian integer, then the data. A topic without
//     a channel or without messages gives the SHA-256 of nothing.
//  2. In a .part remove the seal first: the last five bytes of the data, which
//     are not counted in its length either.
//  3. Take the SHA-256 over the three hashes one after the other, 96 bytes.
//  4. Write that hash in Base32, five bits a character from the most significant
//     bit on, with the alphabet 0123456789abcdefghjkmnpqrstvwxyz (that of Douglas
//     Crockford in lower case). The first ten characters are the id.
package recording
