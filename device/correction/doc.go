// Package correction reads and writes corrections of what a recording says of
// itself: dancer, shoes, mountings, conditions, exchanged feet.
//
// The file of a recording never changes after it was finished. Wrong metadata
// are corrected in a file beside it, in the same folder,
// whose name is the recording's id (see package recording) and ".correction.json".
// It holds one JSON object:
//
//		{
//		  "format": 1,
//		  "id": "0123456789",
//		  "started": "2026-03-14T10:00:00Z",
//		  "corrections": [
//		    {"at": "2026-03-15T09:00:00Z", "software": "aplomb 0.3.0",
//		     "left": {"shoe": "shoe = \"B\"\nplatform_mm = [36.0, 22.0]\n"}},
//		    {"at": "2026-03-15T09:05:00Z", "software": "aplomb 0.3.0", "undo": true}
//		  ]
//		}
//
//	  - format is the version of this format. A reader refuses a newer one.
//	  - id and started are those of the recording; started is what the recording
//	    says of its start, to the nanosecond.
//	  - corrections are in the order in which they were made. A new one is added at
//	    the end; earlier ones stay as they are.
//	  - A correction has the keys dancer, visit, support, rise, position, floor,
//	    feedback, mass_kg and feet_swapped, and under left and right shoe, mark,
//	    padding, mounting and fixing. Each value replaces the value that
//	    was valid before. An absent key changes nothing; "" and 0 mean
//	    unknown. shoe is the shoe in the TOML of its own file, as in the
//	    recording.
//	  - remark has what a person noted about the recording: saw and pinches (lists of
//	    texts), note, comfort (1 bad to 5 good), pain (0 to 10) and decision (use, repeat,
//	    discard). It changes nothing that is measured, and undo leaves it.
//	  - undo, alone, withdraws all corrections before it: the recorded values are valid again.
//	  - feet_swapped says that the lines of the two strips were exchanged when the
//	    recording was made: frames and events of the left foot are of the right one
//	    and the other way round. Strips and shoes stay with their feet.
//
// A file has at most 64 KiB. It is readable by its owner alone, because it can hold
// the code of a dancer.
package correction
