package measure

// Provenance says what numbers were computed from and by what, so that somebody
// else can compute them again. Two results with one Algorithm and the same
// inputs, strips and shoes are the same numbers.
type Provenance struct {
	Software
	Format    int       `json:"format"`    // of what JSON keys mean; absent in the first
	Algorithm string    `json:"algorithm"` // hash of everything in the program that changes numbers, see package provenance
	Inputs    []Input   `json:"inputs"`
	Strips    []Content `json:"strips"`
	Shoes     []Content `json:"shoes"`
	Settings  Settings  `json:"settings"`

	// Agreements are how strips of the logbook agreed with reference instruments, whatever
	// Strips has. They change no number.
	Agreements []Agreement `json:"-"`
}

// Format is the version of what JSON keys mean. Its history is in the guide page on files.
const Format = 2

// Software is a build of the program.
type Software struct {
	Version  string `json:"version"`
	Commit   string `json:"commit,omitempty"` // full hash; absent where the build does not know it
	Modified bool   `json:"modified"`         // the source differed from the commit
	// Architecture is the processor's, in the words of the Go compiler, such as amd64 and
	// arm64. Numbers computed on another one can differ in their last digits; absent in
	// results from before it was kept.
	Architecture string `json:"architecture,omitempty"`
}

// Input is a recording that numbers were computed from.
type Input struct {
	ID     string `json:"id,omitempty"` // of its frames and events, see package recording; absent where it is not known
	File   string `json:"file"`         // name without its folder
	SHA256 string `json:"sha256"`       // of the file, in hexadecimal
	// Correction is the name of the file beside it that corrects what the recording says
	// of itself, and CorrectionSHA256 the SHA-256 of that; both absent where there is none.
	Correction       string `json:"correction,omitempty"`
	CorrectionSHA256 string `json:"correction_sha256,omitempty"`
}

// Content is a strip or a shoe as it was when numbers were computed.
type Content struct {
	Name   string `json:"name"`   // of a strip; the code of a shoe
	SHA256 string `json:"sha256"` // of its TOML as device.TOML writes it, in hexadecimal
}
