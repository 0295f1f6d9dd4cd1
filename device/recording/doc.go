// Package recording keeps frames in a file and gives them back.
//
// A recording is an MCAP file (https://mcap.dev/spec), so that any MCAP reader
// opens it without this program:
//
//   - The header's profile is "aplomb".
//   - Metadata records at the beginning explain the recording: "recording"
//     (who, when, how), and "left" and "right" with the strip and the shoe of
//     that foot, each as the TOML its own file would hold.
//   - The channels "left" and "right" carry aplomb.Frame and "events"
//     aplomb.Event, in protobuf; the schema records hold the descriptors.
//   - A message's log time is when it was recorded: for a frame its arrival,
//     for an event the latest moment known when it was written. Its publish
//     time is when it happened. Both are ns since 1970.
//
// While it is being recorded, the file is FILE.mcap.part with one record a
// message, unchunked, each with a seal of its own (the field of that name), and
// goes to the disk every half second. A crash of the program costs at most that
// half second, a power cut at most that and the time that a sync takes: a second
// in all where the disk takes no longer than half of one. What the disk did not
// get ends the file where its seals end; it is never taken for frames.
//
// When it is closed it becomes FILE.mcap, in chunks of 1 MiB compressed with
// zstd, each with its checksum. That is made beside it and given its name only
// once it is on the disk, never in place of something else; then the .part goes.
// Where a crash left both, FILE.mcap is whole.
package recording
