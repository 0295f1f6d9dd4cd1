// Package document defines the JSON objects that commands write about the contents of the
// logbook, about ports, and about errors. It is plain data and computes nothing; package
// keys describes every key. Unknown values are absent. Files, ids and checksums are as in
// package measure's provenance.
package document

import (
	"time"

	"aplomb/analyze/measure"
	"aplomb/analyze/mounting"
	"aplomb/device"
	"aplomb/device/correction"
)

// Dancers is what dancer list writes.
type Dancers struct {
	Dancers    []Dancer            `json:"dancers"`
	Provenance *measure.Provenance `json:"provenance"`
}

// DancerShown is what dancer show writes.
type DancerShown struct {
	Dancer
	Deidentified string              `json:"deidentified,omitempty"`
	VisitRecords []Visit             `json:"visit_records"`
	Provenance   *measure.Provenance `json:"provenance"`
}

// Dancer is a dancer in the logbook.
type Dancer struct {
	Code        string                `json:"dancer"`
	BirthYear   int                   `json:"birth_year,omitempty"`
	PointeYears *float64              `json:"pointe_years,omitempty"`
	Watched     string                `json:"watched,omitempty"`
	Feet        measure.PerFoot[Foot] `json:"feet"`
	Consent     string                `json:"consent,omitempty"`
	ConsentDay  string                `json:"consent_day,omitempty"`
	Note        string                `json:"note,omitempty"`
	Visits      []string              `json:"visits"` // names, by day
}

// Foot is a dancer's foot in the logbook.
type Foot struct {
	ToeShape        string `json:"toe_shape,omitempty"`
	LongestToe      int    `json:"longest_toe,omitempty"`
	Width           string `json:"width,omitempty"`
	Compressibility string `json:"compressibility,omitempty"`
}

// Visits is what visit list writes.
type Visits struct {
	VisitRecords []Visit             `json:"visit_records"` // the last one first
	Provenance   *measure.Provenance `json:"provenance"`
}

// VisitShown is what visit show writes.
type VisitShown struct {
	Visit
	Recordings []Recording         `json:"recordings"`
	Plan       *Plan               `json:"plan,omitempty"`
	Provenance *measure.Provenance `json:"provenance"`
}

// Visit is a visit in the logbook.
type Visit struct {
	Dancer string `json:"dancer"`
	measure.Visit
	Day              string   `json:"day"`
	Baseline         bool     `json:"baseline"`
	Support          string   `json:"support,omitempty"`
	Rise             string   `json:"rise,omitempty"`
	Position         string   `json:"position,omitempty"`
	Floor            string   `json:"floor,omitempty"`
	MassKG           float64  `json:"mass_kg,omitempty"`
	RecordingNumbers []int64  `json:"recording_numbers"`
	Shoes            []string `json:"shoes"` // in the order of wearing
}

// Recordings is what show without a number writes.
type Recordings struct {
	Recordings []Recording         `json:"recordings"` // the last one first
	Provenance *measure.Provenance `json:"provenance"`
}

// RecordingShown is what show with a number writes.
type RecordingShown struct {
	Recording
	Notes       []measure.Note      `json:"notes,omitempty"`
	Releves     []Releve            `json:"releves"`
	VisitRecord *measure.Visit      `json:"visit_record"`
	Provenance  *measure.Provenance `json:"provenance"`
}

// Recording is a recording in the logbook.
type Recording struct {
	Number           int64     `json:"number"`
	ID               string    `json:"id,omitempty"`
	Path             string    `json:"path"`
	SHA256           string    `json:"sha256"`
	CorrectionSHA256 string    `json:"correction_sha256,omitempty"`
	Bytes            int64     `json:"bytes"`
	Dancer           string    `json:"dancer"`
	Visit            string    `json:"visit"`
	Day              string    `json:"day"`
	Started          time.Time `json:"started"`
	Software         string    `json:"software,omitempty"`
	Support          string    `json:"support,omitempty"`
	Rise             string    `json:"rise,omitempty"`
	Position         string    `json:"position,omitempty"`
	Floor            string    `json:"floor,omitempty"`
	Feedback         string    `json:"feedback,omitempty"`
	MassKG           float64   `json:"mass_kg,omitempty"`

	Feet       measure.PerFoot[RecordedFoot] `json:"feet"`
	Remark     *correction.Remark            `json:"remark,omitempty"`
	Measures   string                        `json:"measures,omitempty"` // current or stale
	MeasuredBy string                        `json:"measured_by,omitempty"`
	Measured   *int                          `json:"measured,omitempty"` // number of relevés
}

// RecordedFoot is the shoe, strip and mounting of one foot.
type RecordedFoot struct {
	Shoe         string `json:"shoe"`
	ShoeVersion  int    `json:"shoe_version"`
	Strip        string `json:"strip"`
	StripVersion int    `json:"strip_version"`
	Mounting     string `json:"mounting,omitempty"`
	Mark         int    `json:"mark,omitempty"`
	Padding      string `json:"padding,omitempty"`
	Fixing       string `json:"fixing,omitempty"`
}

// Releve is a relevé of one foot in the logbook.
type Releve struct {
	N        int                       `json:"n"`
	Foot     device.Foot               `json:"foot"`
	FeetUp   int                       `json:"feet_up"`
	StartS   float64                   `json:"start_s"`
	Status   measure.Status            `json:"status"`
	Verdict  measure.Verdict           `json:"verdict,omitempty"`
	Evidence measure.Evidence          `json:"evidence,omitempty"`
	Measures map[measure.Measure]Value `json:"measures,omitempty"`
}

// Value is the value of one measure in one relevé, in the unit of the measure.
type Value struct {
	Value float64     `json:"value"`
	U     *float64    `json:"u,omitempty"`
	DOF   measure.DOF `json:"dof,omitzero"`
}

// Shoes is what shoe list writes: the version of each shoe that is worn now.
type Shoes struct {
	Shoes      []Shoe              `json:"shoes"`
	Provenance *measure.Provenance `json:"provenance"`
}

// ShoeShown is what shoe show writes.
type ShoeShown struct {
	Code       string              `json:"shoe"`
	Versions   []Shoe              `json:"versions"`
	Provenance *measure.Provenance `json:"provenance"`
}

// Shoe is one version of a shoe.
type Shoe struct {
	Code             string  `json:"shoe"`
	Version          int     `json:"version"`
	Current          bool    `json:"current"`
	Owner            string  `json:"owner,omitempty"`
	SHA256           string  `json:"shoe_sha256"`
	WidthMM          float64 `json:"width_mm"`
	DepthMM          float64 `json:"depth_mm"`
	AreaMM2          float64 `json:"area_mm2"`
	OutlineExponent  float64 `json:"outline_exponent,omitempty"`
	Box              string  `json:"box,omitempty"`
	CrownMM          float64 `json:"crown_mm,omitempty"`
	Shank            string  `json:"shank,omitempty"`
	ShankLength      string  `json:"shank_length,omitempty"`
	VampMM           float64 `json:"vamp_mm,omitempty"`
	WingsMM          float64 `json:"wings_mm,omitempty"`
	Padding          string  `json:"padding,omitempty"`
	HoursWorn        float64 `json:"hours_worn"`
	Profile          string  `json:"profile"` // TOML, whose SHA-256 is SHA256
	RecordingNumbers []int64 `json:"recording_numbers"`
}

// Strips is what strip list writes: the profile of each strip in force.
type Strips struct {
	Strips     []Strip             `json:"strips"`
	Provenance *measure.Provenance `json:"provenance"`
}

// StripShown is what strip show writes.
type StripShown struct {
	Name     string            `json:"strip"`
	Versions []Strip           `json:"versions"`
	Checks   []StripCheck      `json:"checks"`               // by day
	Agreed   []StripAgreement  `json:"agreements,omitempty"` // by day
	Warnings []measure.Warning `json:"warning_codes"`
	Texts    []string          `json:"warnings"`

	Provenance *measure.Provenance `json:"provenance"`
}

// Strip is one version of a strip's profile.
type Strip struct {
	Name             string      `json:"strip"`
	Version          int         `json:"version"`
	Current          bool        `json:"current"`
	SHA256           string      `json:"strip_sha256"`
	Foot             device.Foot `json:"foot"`
	Rows             int         `json:"rows"`
	Columns          int         `json:"columns"`
	PitchMedialMM    float64     `json:"pitch_medial_mm"`
	PitchOverMM      float64     `json:"pitch_over_mm"`
	GainSD           float64     `json:"gain_sd"`
	SeatSDMM         float64     `json:"seat_sd_mm"`
	SeatMountings    int         `json:"seat_mountings,omitempty"`
	Calibrated       string      `json:"calibrated,omitempty"` // day
	ValidUntil       string      `json:"valid_until,omitempty"`
	Profile          string      `json:"profile"` // TOML, whose SHA-256 is SHA256
	RecordingNumbers []int64     `json:"recording_numbers"`
}

// StripCheck is one check of a strip with known weights.
type StripCheck struct {
	Day        string   `json:"day"`
	Version    int      `json:"version"`
	Pass       bool     `json:"pass"`
	Presses    int      `json:"presses"`
	Bias       float64  `json:"bias"`
	RMSLoad    float64  `json:"rms_load"`
	RMSCoPMM   *float64 `json:"rms_cop_mm,omitempty"`
	LoadU      float64  `json:"u_load"`
	LimitLoad  float64  `json:"limit_load"`
	LimitCoPMM float64  `json:"limit_cop_mm"`
}

// StripAgreement is the agreement of a strip with a reference instrument in one
// recording.
type StripAgreement struct {
	Day        string           `json:"day"`
	Version    int              `json:"version"`
	Number     int64            `json:"number,omitempty"` // of the recording
	Instrument string           `json:"instrument,omitempty"`
	Reference  string           `json:"reference_sha256"`
	Simulated  bool             `json:"simulated"`
	Evidence   measure.Evidence `json:"evidence"`
	Measures   []AgreedMeasure  `json:"measures"`
}

// AgreedMeasure is the agreement in one measure, with the hold as the unit.
type AgreedMeasure struct {
	Measure measure.Measure `json:"measure"`
	Holds   int             `json:"holds"`
	Bias    float64         `json:"bias"`
	Lower   float64         `json:"lower"`
	Upper   float64         `json:"upper"`
}

// Plan is the plan of a visit with the recordings made for it.
type Plan struct {
	Shoes      []string      `json:"shoes"`
	Mountings  int           `json:"mountings"`
	Releves    int           `json:"releves"`
	Seed       uint64        `json:"seed"`
	Feet       []device.Foot `json:"feet"`
	Uneven     float64       `json:"uneven"`
	Balance    string        `json:"balance"`
	Steps      []Step        `json:"steps"`
	Done       int           `json:"done"`
	Next       int           `json:"next,omitempty"` // from 1
	Deviations []Deviation   `json:"deviations"`
}

// Step is one step of a plan: one mounting of the strips under one shoe.
type Step struct {
	N                int                  `json:"n"`
	Shoe             string               `json:"shoe"`
	Mounting         int                  `json:"mounting"`
	Releves          int                  `json:"releves"`
	Rest             bool                 `json:"rest"`
	SameShoe         bool                 `json:"same_shoe"`
	Text             string               `json:"text"`
	RecordingNumbers []int64              `json:"recording_numbers"`
	Measured         measure.PerFoot[int] `json:"measured"`
	Done             bool                 `json:"done"`
}

// Deviation is a deviation of a recording from the plan.
type Deviation struct {
	Number int64  `json:"number"`
	Text   string `json:"text"`
}

// PlanMade is what visit plan writes.
type PlanMade struct {
	Dancer       string              `json:"dancer"`
	Visit        string              `json:"visit"`
	Stop         string              `json:"stop,omitempty"`
	Plan         Plan                `json:"plan"`
	Noise        Noise               `json:"noise"`
	Detectable   *Detectable         `json:"detectable,omitempty"`
	Alternatives []Detectable        `json:"alternatives"`
	Provenance   *measure.Provenance `json:"provenance"`
}

// Noise is the noise that limits the detectable difference in over between two shoes.
type Noise struct {
	ScatterMM   float64     `json:"scatter_mm"`
	ScatterDOF  float64     `json:"scatter_dof,omitempty"`
	SeatMM      float64     `json:"seat_mm"`
	SeatDOF     measure.DOF `json:"seat_dof,omitzero"`
	SeatAssumed bool        `json:"seat_assumed"`
	Strip       string      `json:"strip,omitempty"`
	SensorMM    float64     `json:"sensor_mm"`
	Text        string      `json:"text"`

	Effect mounting.Effect `json:"mounting_effect"`
}

// Detectable is the difference that a number of mountings and relevés of each shoe can
// detect.
type Detectable struct {
	Mountings    int         `json:"mountings"`
	Releves      int         `json:"releves"`
	UMM          float64     `json:"u_mm"`
	DOF          measure.DOF `json:"dof,omitzero"`
	DifferenceMM *float64    `json:"difference_mm,omitempty"` // absent where there is no interval
	Text         string      `json:"text"`
}

// Study is what visit plan --study writes.
type Study struct {
	Seed       uint64              `json:"seed"`
	Orders     []Order             `json:"orders"`
	Square     int                 `json:"square"`
	Balanced   bool                `json:"balanced"`
	Text       string              `json:"text"`
	Provenance *measure.Provenance `json:"provenance"`
}

// Studies is what study list writes.
type Studies struct {
	Studies    []StudySummary      `json:"studies"` // by name
	Provenance *measure.Provenance `json:"provenance"`
}

// StudySummary is one study of the logbook.
type StudySummary struct {
	Study    string          `json:"study"`
	Declared string          `json:"declared"`
	Measure  measure.Measure `json:"measure"`
	Dancers  []string        `json:"dancers"` // by row; those who were erased are left out
	Complete int             `json:"complete"`
	Stop     int             `json:"stop_at"`
}

// StudyChecked is what study check writes.
type StudyChecked struct {
	Study      string              `json:"study"`
	Checked    int                 `json:"checked"`
	LeftOut    int                 `json:"left_out"`   // recordings of dancers who dropped out or withdrew their consent
	Recordings []StudyFault        `json:"recordings"` // those with a fault
	Mountings  int                 `json:"mountings"`
	Missing    int                 `json:"missing"`
	Provenance *measure.Provenance `json:"provenance"`
}

// StudyFault is a fault of a recording of a study.
type StudyFault struct {
	Number  int64    `json:"number"`
	Dancer  string   `json:"dancer"`
	Visit   string   `json:"visit"`
	OfStudy int      `json:"visit_of_study"`
	Label   string   `json:"label"`
	What    []string `json:"what"`
}

// Order is the order in which one dancer of a study tries the shoes.
type Order struct {
	Dancer string   `json:"dancer"`
	Shoes  []string `json:"shoes"`
}

// LogbookCheck is what logbook check writes.
type LogbookCheck struct {
	Folder     string              `json:"folder"`
	Whole      bool                `json:"whole"`
	Findings   []Finding           `json:"findings"`
	Contents   *Contents           `json:"contents,omitempty"`
	Provenance *measure.Provenance `json:"provenance"`
}

// Finding is one problem of a logbook, or a program at work in it.
type Finding struct {
	Where string `json:"where"`
	What  string `json:"what"`
	Do    string `json:"do"`
	Fine  bool   `json:"fine"`
}

// Contents counts what is in a logbook.
type Contents struct {
	Dancers     int   `json:"dancers"`
	Visits      int   `json:"visits"`
	Shoes       int   `json:"shoes"`
	Strips      int   `json:"strips"`
	StripChecks int   `json:"strip_checks"`
	Agreements  int   `json:"agreements"`
	Recordings  int   `json:"recordings"`
	Bytes       int64 `json:"bytes"`
}

// Reproduced is what reproduce writes.
type Reproduced struct {
	Reproduced bool                `json:"reproduced"`
	Files      int                 `json:"files"`
	Faults     []PackageFault      `json:"faults"`
	Compared   *Compared           `json:"compared,omitempty"` // absent where only checksums were compared
	Provenance *measure.Provenance `json:"provenance"`
}

// PackageFault is a file of a data package that is not as its list of checksums says.
type PackageFault struct {
	File  string `json:"file"`
	Fault string `json:"fault"` // missing, altered, unlisted, unreadable
	Error string `json:"error,omitempty"`
}

// Compared is how the numbers of a data package compare with those computed again.
type Compared struct {
	MadeBy             PackageMadeBy     `json:"made_by"`
	Exact              bool              `json:"exact"`
	RecordingsMeasured int               `json:"recordings_measured"`
	RecordingsLeftOut  int               `json:"recordings_left_out"`
	Tables             int               `json:"tables"`
	TablesIdentical    int               `json:"tables_identical"`
	Same               ValueCount        `json:"same"`
	Close              int               `json:"close"`
	NotCompared        ValueCount        `json:"not_compared"`
	Differences        []ValueDifference `json:"differences"`
}

// PackageMadeBy is the program that made a data package.
type PackageMadeBy struct {
	measure.Software
	Algorithm string `json:"algorithm"`
}

// ValueCount counts the values of tables.
type ValueCount struct {
	Numbers int `json:"numbers"`
	Others  int `json:"others"`
}

// ValueDifference is one value that differs; without a field a row that is on one side
// only, and without a row a file that was computed otherwise.
type ValueDifference struct {
	File       string   `json:"file"`
	Row        string   `json:"row,omitempty"`
	Field      string   `json:"field,omitempty"`
	Package    string   `json:"package,omitempty"`
	Computed   string   `json:"computed,omitempty"`
	Difference *float64 `json:"difference,omitempty"`
	Unit       string   `json:"unit,omitempty"`
}

// Ports is what ports writes.
type Ports struct {
	Ports      []Port              `json:"ports"`
	Provenance *measure.Provenance `json:"provenance"`
}

// Port is a serial port of this machine.
type Port struct {
	Port         string      `json:"port"`
	Product      string      `json:"product,omitempty"`
	VendorID     string      `json:"vendor_id,omitempty"`
	ProductID    string      `json:"product_id,omitempty"`
	SerialNumber string      `json:"serial_number,omitempty"`
	Strips       []PortStrip `json:"strips,omitempty"`
	Baud         int         `json:"baud,omitempty"`
	Heard        string      `json:"heard,omitempty"` // in words
}

// PortStrip is a strip that announces itself on a port.
type PortStrip struct {
	Strip   string      `json:"strip"`
	Foot    device.Foot `json:"foot"`
	Rows    int         `json:"rows"`
	Columns int         `json:"columns"`
	RateHz  float64     `json:"rate_hz"`
	ADCBits int         `json:"adc_bits"`
}

// Failure replaces the object of a recording that could not be read or measured.
type Failure struct {
	Error      string              `json:"error"`
	File       string              `json:"file"` // its name, or its number in the logbook
	Provenance *measure.Provenance `json:"provenance"`
}

// Failed is what a command that ends with an error writes to the standard error.
type Failed struct {
	Error      Error               `json:"error"`
	Provenance *measure.Provenance `json:"provenance"`
}

// Error is an error with which a command ends.
type Error struct {
	What    string `json:"what"`
	Where   string `json:"where,omitempty"`
	Do      string `json:"do,omitempty"`
	Command string `json:"command"`
	Exit    int    `json:"exit"` // exit status
}
