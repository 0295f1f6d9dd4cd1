package output

import (
	"context"
	"errors"
	"math"
	"slices"
	"strconv"
	"time"

	"aplomb/analyze"
	"aplomb/analyze/dataset"
	"aplomb/analyze/document"
	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/analyze/plan"
	"aplomb/analyze/provenance"
	"aplomb/analyze/scale"
	"aplomb/cmd/internal/console"
	"aplomb/cmd/internal/software"
	"aplomb/device"
	"aplomb/plots/words"
)

// Provenance returns the provenance of what the program writes as JSON, without inputs.
func Provenance() *measure.Provenance {
	return provenance.New(software.Provenance(), analyze.Settings(software.Version))
}

// from returns the provenance of data read from recordings in the logbook.
func from(l *logbook.Logbook, made ...logbook.Recording) (*measure.Provenance, error) {
	p, used := Provenance(), map[int64]bool{}
	for _, r := range made {
		used[r.ID] = true
	}
	if len(made) == 0 {
		return p, nil
	}
	return p, l.AddInputs(p, used)
}

// DancersJSON returns every dancer of the logbook.
func DancersJSON(l *logbook.Logbook) (*document.Dancers, error) {
	all, err := l.Dancers()
	if err != nil {
		return nil, err
	}
	list := &document.Dancers{Dancers: []document.Dancer{}, Provenance: Provenance()}
	for _, d := range all {
		visits, err := l.Visits(d.Code)
		if err != nil {
			return nil, err
		}
		list.Dancers = append(list.Dancers, dancerJSON(d, visits))
	}
	return list, nil
}

// DancerJSON returns a dancer with the visits, by day. deidentified is the code of the dancer
// in packages that are de-identified, "" where no key was named.
func DancerJSON(l *logbook.Logbook, d logbook.Dancer, deidentified string) (*document.DancerShown, error) {
	visits, err := l.Visits(d.Code)
	if err != nil {
		return nil, err
	}
	records, err := visitsJSON(l, d.Code, visits)
	return &document.DancerShown{Dancer: dancerJSON(d, visits), Deidentified: deidentified, VisitRecords: records, Provenance: Provenance()}, err
}

func dancerJSON(d logbook.Dancer, visits []logbook.Visit) document.Dancer {
	one := document.Dancer{Code: d.Code, BirthYear: d.BirthYear, PointeYears: d.PointeYears, Watched: d.Watched, Consent: d.Consent, ConsentDay: string(d.ConsentDay), Note: d.Note, Visits: []string{}}
	for _, f := range device.Feet {
		if d.Feet[f] != (logbook.Foot{}) {
			one.Feet.Set(f, document.Foot(d.Feet[f]))
		}
	}
	for _, v := range visits {
		one.Visits = append(one.Visits, v.Name())
	}
	return one
}

// VisitsJSON returns visits in their order: visits of a dancer, or of any dancer where
// dancer is "".
func VisitsJSON(l *logbook.Logbook, dancer string, visits []logbook.Visit) (*document.Visits, error) {
	records, err := visitsJSON(l, dancer, visits)
	return &document.Visits{VisitRecords: records, Provenance: Provenance()}, err
}

func visitsJSON(l *logbook.Logbook, dancer string, visits []logbook.Visit) ([]document.Visit, error) {
	made, err := l.Recordings(logbook.Filter{Dancer: dancer})
	if err != nil {
		return nil, err
	}
	in := map[int64][]logbook.Recording{}
	for _, r := range made {
		in[r.VisitID] = append(in[r.VisitID], r)
	}
	all := []document.Visit{}
	for _, v := range visits {
		all = append(all, visitJSON(v, in[v.ID]))
	}
	return all, nil
}

func visitJSON(v logbook.Visit, made []logbook.Recording) document.Visit {
	return document.Visit{
		Dancer: v.Dancer, Visit: *v.Record(), Day: string(v.Day), Baseline: v.Baseline,
		Support: v.Support, Rise: v.Rise, Position: v.Position, Floor: v.Floor, MassKG: v.MassKG,
		RecordingNumbers: numbers(made), Shoes: append([]string{}, shoesIn(made)...),
	}
}

func numbers(made []logbook.Recording) []int64 {
	all := []int64{}
	for _, r := range made {
		all = append(all, r.ID)
	}
	return all
}

// VisitJSON returns a visit with its recordings and the progress of its plan.
func VisitJSON(l *logbook.Logbook, v logbook.Visit) (*document.VisitShown, error) {
	made, err := l.Recordings(logbook.Filter{VisitID: v.ID})
	if err != nil {
		return nil, err
	}
	shown := &document.VisitShown{Visit: visitJSON(v, made)}
	if shown.Recordings, err = recordingsJSON(l, made); err != nil {
		return nil, err
	}
	switch c, err := l.PlanProgress(v.ID); {
	case err == nil:
		shown.Plan = progressJSON(c)
	case !errors.Is(err, logbook.ErrNotFound):
		return nil, err
	}
	shown.Provenance, err = from(l, made...)
	return shown, err
}

// RecordingsJSON returns every recording of the logbook, the last one first.
func RecordingsJSON(l *logbook.Logbook) (*document.Recordings, error) {
	made, err := l.Recordings(logbook.Filter{})
	if err != nil {
		return nil, err
	}
	slices.Reverse(made)
	list := &document.Recordings{}
	if list.Recordings, err = recordingsJSON(l, made); err != nil {
		return nil, err
	}
	list.Provenance, err = from(l, made...)
	return list, err
}

func recordingsJSON(l *logbook.Logbook, made []logbook.Recording) ([]document.Recording, error) {
	all := []document.Recording{}
	for _, r := range made {
		releves, err := l.Releves(r.ID)
		if err != nil {
			return nil, err
		}
		all = append(all, recordingJSON(r, releves))
	}
	return all, nil
}

// RecordingJSON returns a recording with relevés of it. A file that cannot be read has no
// notes.
func RecordingJSON(ctx context.Context, l *logbook.Logbook, r logbook.Recording, shown []logbook.Releve) (*document.RecordingShown, error) {
	v, err := l.Visit(r.VisitID)
	if err != nil {
		return nil, err
	}
	all, err := l.Releves(r.ID)
	if err != nil {
		return nil, err
	}
	one := &document.RecordingShown{Recording: recordingJSON(r, all), Releves: []document.Releve{}, VisitRecord: v.Record()}
	for _, each := range shown {
		one.Releves = append(one.Releves, releveJSON(each))
	}
	if one.Notes, err = analyze.Notes(ctx, r.Path); err != nil && ctx.Err() != nil {
		return nil, err
	}
	one.Provenance, err = from(l, r)
	return one, err
}

func recordingJSON(r logbook.Recording, releves []logbook.Releve) document.Recording {
	one := document.Recording{
		Number: r.ID, ID: r.Identity, Path: r.Path, SHA256: r.SHA256, CorrectionSHA256: r.Correction, Bytes: r.Size,
		Dancer: r.Dancer, Visit: r.VisitName, Day: string(r.Day), Started: r.Started.UTC(), Software: r.Software,
		Support: r.Support, Rise: r.Rise, Position: r.Position, Floor: r.Floor, Feedback: r.Feedback, MassKG: r.MassKG,
		Measures: string(r.Measures), MeasuredBy: r.Version,
	}
	for _, f := range device.Feet {
		if r.Feet[f] != nil {
			one.Feet.Set(f, document.RecordedFoot(*r.Feet[f]))
		}
	}
	if !r.Remark.Empty() {
		one.Remark = &r.Remark
	}
	if r.Measures != logbook.NotMeasured {
		n := logbook.CountMeasured(releves)
		one.Measured = &n
	}
	return one
}

func releveJSON(r logbook.Releve) document.Releve {
	one := document.Releve{N: r.N, Foot: r.Foot, FeetUp: r.FeetUp, StartS: r.StartS, Status: measure.Measured, Verdict: r.Verdict, Evidence: r.Evidence}
	if r.Aborted {
		one.Status = measure.Aborted
	}
	for m, v := range measures(r) {
		if one.Measures == nil {
			one.Measures = map[measure.Measure]document.Value{}
		}
		value := document.Value{Value: v.Value, U: v.U, DOF: measure.Unlimited}
		if v.U != nil {
			value.DOF = v.DOF
		}
		one.Measures[m] = value
	}
	return one
}

// ShoesJSON returns the shoes of the logbook as they are now.
func ShoesJSON(l *logbook.Logbook) (*document.Shoes, error) {
	all, err := l.Shoes()
	if err != nil {
		return nil, err
	}
	list := &document.Shoes{Provenance: Provenance()}
	list.Shoes, err = shoesJSON(l, all, false)
	return list, err
}

// ShoeJSON returns the versions of a shoe.
func ShoeJSON(l *logbook.Logbook, versions []logbook.Shoe) (*document.ShoeShown, error) {
	all, err := shoesJSON(l, versions, true)
	if err != nil {
		return nil, err
	}
	return &document.ShoeShown{Code: all[0].Code, Versions: all, Provenance: Provenance()}, nil
}

// shoesJSON returns versions of shoes with the recordings that were made with that version,
// or with any version of the shoe.
func shoesJSON(l *logbook.Logbook, all []logbook.Shoe, ofVersion bool) ([]document.Shoe, error) {
	made, err := madeWith(l, ofVersion, func(f *logbook.RecordedFoot) (string, int) { return f.Shoe, f.ShoeVersion })
	if err != nil {
		return nil, err
	}
	list := []document.Shoe{}
	for _, s := range all {
		size := s.Size()
		list = append(list, document.Shoe{
			Code: s.Code, Version: s.Version, Current: s.Current, Owner: s.Owner, SHA256: dataset.ContentOf(&s.Shoe),
			WidthMM: size[0], DepthMM: size[1], AreaMM2: s.Outline().Area(), OutlineExponent: s.OutlineExponent,
			Box: s.Box, CrownMM: s.CrownMM, Shank: s.Shank, ShankLength: s.ShankLength, VampMM: s.VampMM, WingsMM: s.WingsMM,
			Padding: s.Padding, HoursWorn: s.HoursWorn, Profile: device.TOML(&s.Shoe), RecordingNumbers: made(s.Code, s.Version),
		})
	}
	return list, nil
}

// madeWith returns a function that returns the numbers of the recordings made with a version
// of a shoe or strip, or with any of its versions.
func madeWith(l *logbook.Logbook, ofVersion bool, of func(*logbook.RecordedFoot) (string, int)) (func(string, int) []int64, error) {
	type thing struct {
		code    string
		version int
	}
	key := func(code string, version int) thing {
		if ofVersion {
			return thing{code, version}
		}
		return thing{code: code}
	}
	made := map[thing][]int64{}
	all, err := l.Recordings(logbook.Filter{})
	for _, r := range all {
		for _, f := range r.Feet {
			if f == nil {
				continue
			}
			if k := key(of(f)); !slices.Contains(made[k], r.ID) {
				made[k] = append(made[k], r.ID)
			}
		}
	}
	return func(code string, version int) []int64 { return append([]int64{}, made[key(code, version)]...) }, err
}

// StripsJSON returns the strips of the logbook with their profiles of now.
func StripsJSON(l *logbook.Logbook) (*document.Strips, error) {
	all, err := l.Strips()
	if err != nil {
		return nil, err
	}
	list := &document.Strips{Provenance: Provenance()}
	list.Strips, err = stripsJSON(l, all, false)
	return list, err
}

// StripJSON returns the versions of a strip's profile, its checks, and the doubts about
// its calibration at a time.
func StripJSON(l *logbook.Logbook, versions []logbook.Strip, at time.Time) (*document.StripShown, error) {
	all, err := stripsJSON(l, versions, true)
	if err != nil {
		return nil, err
	}
	shown := &document.StripShown{
		Name: all[0].Name, Versions: all, Checks: []document.StripCheck{}, Warnings: []measure.Warning{}, Texts: []string{}, Provenance: Provenance(),
	}
	for _, s := range versions {
		if s.Current {
			shown.Warnings = append(shown.Warnings, measure.CalibrationWarnings(s.CalibrationDoubts(at))...)
			shown.Texts = append(shown.Texts, words.Warnings(shown.Warnings)...)
		}
	}
	checks, err := l.StripChecks(shown.Name)
	for _, c := range checks {
		shown.Checks = append(shown.Checks, checkJSON(c))
	}
	if err != nil {
		return shown, err
	}
	agreed, err := l.Agreements(shown.Name)
	for _, a := range agreed {
		shown.Agreed = append(shown.Agreed, agreementJSON(a))
	}
	return shown, err
}

func agreementJSON(a measure.Agreement) document.StripAgreement {
	one := document.StripAgreement{
		Day: a.Day.Format(time.DateOnly), Version: a.Version, Number: a.Recording, Instrument: a.Instrument, Reference: a.Reference,
		Simulated: a.Simulated, Evidence: a.Evidence, Measures: []document.AgreedMeasure{},
	}
	for _, m := range a.Measures {
		one.Measures = append(one.Measures, document.AgreedMeasure(m))
	}
	return one
}

func stripsJSON(l *logbook.Logbook, all []logbook.Strip, ofVersion bool) ([]document.Strip, error) {
	made, err := madeWith(l, ofVersion, func(f *logbook.RecordedFoot) (string, int) { return f.Strip, f.StripVersion })
	if err != nil {
		return nil, err
	}
	list := []document.Strip{}
	for _, s := range all {
		list = append(list, document.Strip{
			Name: s.Name, Version: s.Version, Current: s.Current, SHA256: dataset.ContentOf(&s.Strip),
			Foot: s.Foot, Rows: s.Rows, Columns: s.Cols, PitchMedialMM: s.PitchMM[0], PitchOverMM: s.PitchMM[1],
			GainSD: s.Calibration.GainSD, SeatSDMM: s.Mount.SeatSDMM, SeatMountings: s.Mount.SeatMountings,
			Calibrated: s.Calibration.Date.String(), ValidUntil: s.Calibration.ValidUntil().String(),
			Profile: device.TOML(&s.Strip), RecordingNumbers: made(s.Name, s.Version),
		})
	}
	return list, nil
}

func checkJSON(c scale.Check) document.StripCheck {
	return document.StripCheck{
		Day: c.Day.Format(time.DateOnly), Version: c.Version, Pass: c.Pass, Presses: c.Presses, Bias: c.Bias, RMSLoad: c.RMSLoad,
		RMSCoPMM: finite(c.RMSCoPMM), LoadU: c.LoadU, LimitLoad: c.LimitLoad, LimitCoPMM: c.LimitCoPMM,
	}
}

// finite returns nil for a number that JSON cannot represent, because it is unknown or
// infinite.
func finite(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}

func planJSON(p plan.Plan) document.Plan {
	one := document.Plan{
		Shoes: p.Shoes, Mountings: p.Mountings, Releves: p.Releves, Seed: p.Seed, Feet: []device.Foot{}, Uneven: p.Uneven, Balance: p.Balance(),
		Steps: []document.Step{}, Next: 1, Deviations: []document.Deviation{},
	}
	for _, f := range device.Feet {
		if p.Feet[f] {
			one.Feet = append(one.Feet, f)
		}
	}
	for i, s := range p.Steps {
		one.Steps = append(one.Steps, document.Step{
			N: i + 1, Shoe: s.Shoe, Mounting: s.Mounting, Releves: s.Releves, Rest: s.Rest, SameShoe: s.SameShoe, Text: s.Text(), RecordingNumbers: []int64{},
		})
	}
	return one
}

// progressJSON returns a plan with the recordings made for it.
func progressJSON(c plan.Progress) *document.Plan {
	one := planJSON(c.Plan)
	one.Done, one.Next = c.Done(), 0
	if c.Next < len(c.Steps) {
		one.Next = c.Next + 1
	}
	for i, s := range c.Steps {
		step := &one.Steps[i]
		step.Done = s.Done
		for _, name := range s.Recordings {
			step.RecordingNumbers = append(step.RecordingNumbers, number(name))
		}
		for _, f := range device.Feet {
			if len(s.Recordings) > 0 && s.Feet[f] && s.Releves[f] >= 0 {
				step.Measured.Set(f, s.Releves[f])
			}
		}
	}
	for _, n := range c.Notes {
		one.Deviations = append(one.Deviations, document.Deviation{Number: number(n.Recording), Text: n.Text})
	}
	return &one
}

// number returns the number of a recording by its name in a plan, which is the number as text.
func number(name string) int64 {
	n, _ := strconv.ParseInt(name, 10, 64)
	return n
}

// PlanJSON returns the plan made for a visit with its detectable difference.
func PlanJSON(v logbook.Visit, p plan.Plan, n plan.Noise) *document.PlanMade {
	made := &document.PlanMade{
		Dancer: v.Dancer, Visit: v.Name(), Stop: v.Advice(), Plan: planJSON(p), Alternatives: []document.Detectable{}, Provenance: Provenance(),
		Noise: document.Noise{
			ScatterMM: n.Scatter, ScatterDOF: n.ScatterDOF, SeatMM: n.Seat, SeatDOF: measure.DOF(n.SeatDOF), SeatAssumed: n.Assumed, Effect: n.Effect,
			Strip: n.Strip, SensorMM: n.Sensor, Text: n.RestsOn(),
		},
	}
	if len(p.Shoes) > 1 {
		d := detectableJSON(p.DetectableDifference(n))
		made.Detectable = &d
		for _, one := range p.Alternatives(n) {
			made.Alternatives = append(made.Alternatives, detectableJSON(one))
		}
	}
	return made
}

func detectableJSON(d plan.DetectableDifference) document.Detectable {
	return document.Detectable{Mountings: d.Mountings, Releves: d.Releves, UMM: d.U, DOF: measure.DOF(d.DOF), DifferenceMM: finite(d.Difference), Text: d.Text()}
}

// StudyJSON returns the order of the shoes for each dancer of a study.
func StudyJSON(dancers []string, s plan.Study, seed uint64) *document.Study {
	one := &document.Study{Seed: seed, Orders: []document.Order{}, Square: s.Square, Balanced: s.Balanced, Text: s.Text(), Provenance: Provenance()}
	for i, order := range s.Orders {
		one.Orders = append(one.Orders, document.Order{Dancer: dancers[i], Shoes: order})
	}
	return one
}

// LogbookCheckJSON returns the findings about a logbook and, where it is intact, its
// contents.
func LogbookCheckJSON(l *logbook.Logbook, findings []logbook.Finding) (*document.LogbookCheck, error) {
	one := &document.LogbookCheck{Folder: l.Dir(), Whole: true, Findings: []document.Finding{}, Provenance: Provenance()}
	for _, f := range findings {
		one.Findings = append(one.Findings, document.Finding(f))
		one.Whole = one.Whole && f.Fine
	}
	if !one.Whole {
		return one, nil
	}
	h, err := l.Contents()
	one.Contents = &document.Contents{
		Dancers: h.Dancers, Visits: h.Visits, Shoes: h.Shoes, Strips: h.Strips, StripChecks: h.StripChecks, Agreements: h.Agreements, Recordings: h.Recordings, Bytes: h.Bytes,
	}
	return one, err
}

// FailureJSON returns the object that replaces that of a recording.
func FailureJSON(message, file string) document.Failure {
	return document.Failure{Error: message, File: file, Provenance: Provenance()}
}

// ErrorJSON returns the error with which a command ends. The remedy for a usage error is
// the command's help, unless the error names another one.
func ErrorJSON(err error, command string, misused bool, exit int) document.Failed {
	what, do := console.Parts(err)
	if do == "" && misused {
		do = "see " + command + " --help"
	}
	return document.Failed{Error: document.Error{What: what, Where: console.File(err), Do: do, Command: command, Exit: exit}, Provenance: Provenance()}
}
