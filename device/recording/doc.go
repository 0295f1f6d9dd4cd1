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
// message, unchunked, so that a crash costs at most the last half second. When
// it is closed it becomes FILE.mcap, in chunks of 1 MiB compressed with zstd,
// each with its checksum.
package recording
