package measure

// Sample is the load and its centre in one frame of one foot, in 24 bytes.
type Sample struct {
	T        float64 // s since the recording's first frame, middle of the scan
	LoadN    float32 // load under the platform, N
	MedialMM float32 // centre of pressure, mm; NaN below the load floor, or where the zero was unknown
	OverMM   float32
	Flags    Flag
}

// Flag marks peculiarities of a sample.
type Flag uint32

const (
	AfterGap  Flag = 1 << iota // frames are missing just before this one
	Saturated                  // a cell is at the end of its range
)
