package measure

// Provenance describes the inputs and the program from which numbers were computed, so
// that they can be computed again. Results with the same Algorithm, inputs, strips and
// shoes have the same numbers.
type Provenance struct {
	Software
	Format    int       `json:"format"`    // of what JSON keys mean; absent in the first
	Algorithm string    `json:"algorithm"` // hash of everything in the program that changes numbers, see package provenance
	Inputs    []Input   `json:"inputs"`
	Strips    []Content `json:"strips"`
	Shoes     []Content `json:"shoes"`
	Settings  Settings  `json:"settings"`

	// Agreements lists the agreements of strips of the logbook with reference
	// instruments, whether or not Strips contains these strips. They do not affect the
	// numbers.
	Agreements []Agreement `json:"-"`
}

// Format is the version of what JSON keys mean. Its history is in the guide page on files.
const Format = 2

// Software is a build of the program.
type Software struct {
	Version  string `json:"version"`
	Commit   string `json:"commit,omitempty"` // full hash; absent where the build does not know it
	Modified bool   `json:"modified"`         // the source differed from the commit
	// Architecture is that of the processor, in the words of the Go compiler, such as
	// amd64 and arm64. Numbers computed on another one can differ in their last digits.
	// It is absent in older results.
	Architecture string `json:"architecture,omitempty"`
}

// Input is a recording that numbers were computed from.
type Input struct {
	ID     string `json:"id,omitempty"` // of its frames and events, see package recording; absent where it is not known
	File   string `json:"file"`         // name without its folder
	SHA256 string `json:"sha256"`       // of the file, in hexadecimal
	// Correction is the name of the file beside it that corrects the recording's
	// metadata, and CorrectionSHA256 its SHA-256; both are absent where there is none.
	Correction       string `json:"correction,omitempty"`
	CorrectionSHA256 string `json:"correction_sha256,omitempty"`
}

// Content identifies a strip or a shoe as it was when numbers were computed.
type Content struct {
	Name   string `json:"name"`   // of a strip; the code of a shoe
	SHA256 string `json:"sha256"` // of its TOML as device.TOML writes it, in hexadecimal
}
