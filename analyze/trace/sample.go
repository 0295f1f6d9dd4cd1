// Package trace turns the frames of a recording into one small sample each:
// when, how much load, and where; and, while there is load, into a pressure map
// every tenth of a second. That is all that stays in memory of a recording.
package trace

import "aplomb/analyze/field"

// Sample is one frame of one foot, 24 bytes.
type Sample struct {
	T        float64 // s since the recording's first frame, middle of the scan
	LoadN    float32 // load under the platform, N
	MedialMM float32 // centre of pressure; NaN below the load floor, or where the zero was unknown
	OverMM   float32
	Flags    Flag
}

// Flag marks what is special about a sample.
type Flag uint32

const (
	AfterGap  Flag = 1 << iota // frames are missing just before this one
	Saturated                  // a cell is at the end of its range
)

// LoadFloorN is the load below which there is no centre of pressure, N.
const LoadFloorN = field.LoadFloorN
