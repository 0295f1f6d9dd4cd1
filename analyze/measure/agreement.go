package measure

import "time"

// Agreement is the stored agreement of a strip with a reference instrument in one
// recording.
type Agreement struct {
	Strip       string
	Version     int       // of the strip's profile in the logbook
	StripSHA256 string    // of the profile, as in Content
	Day         time.Time // of the recording, at midnight UTC
	Recording   int64     // its number in the logbook; 0 where it is not, or no longer, in it
	Instrument  string    // in the user's words; "" where unknown
	// Reference is the SHA-256 of the reference's file.
	Reference string
	Simulated bool // simulated data, which are no evidence about a strip
	Evidence  Evidence
	Measures  []Agreed // in the order of the catalogue
}

// Agreed is the agreement in one measure, with the hold as the unit.
type Agreed struct {
	Measure Measure
	Holds   int     // 3 or more
	Bias    float64 // mean of strip less reference, in the unit of the measure
	Lower   float64 // 95 % limits of agreement, in that unit
	Upper   float64
}
