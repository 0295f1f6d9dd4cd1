package analyze

import (
	"cmp"
	"context"
	"slices"

	"aplomb/analyze/measure"
	"aplomb/device"
)

// Notes returns the notes in the recording at path in order of time, each with the relevé
// during which it was written. Its errors are those of File.
func Notes(ctx context.Context, path string) ([]measure.Note, error) {
	p, err := Prepare(ctx, path)
	if err != nil {
		return nil, err
	}
	return p.notes(), nil
}

// notes returns the notes in order of time. A note belongs to the last relevé that had
// begun by then: its author has seen that one, and may finish writing after it has ended.
func (r *recorded) notes() (notes []measure.Note) {
	for _, e := range r.events {
		if e.Kind == device.Note {
			notes = append(notes, measure.Note{TimeS: r.secondsOf(e), Text: e.Text})
		}
	}
	slices.SortStableFunc(notes, func(a, b measure.Note) int { return cmp.Compare(a.TimeS, b.TimeS) })
	for i := range notes {
		for n, pair := range r.paired.pairs {
			left, right := r.paired.pulses[device.Left], r.paired.pulses[device.Right]
			if pair.OnsetS(left, right) <= notes[i].TimeS {
				notes[i].Releve, notes[i].During = n+1, notes[i].TimeS < pair.EndS(left, right)
			}
		}
	}
	return notes
}

// addNotes adds the notes written during the recording, and the remarks added afterwards.
func (r *recorded) addNotes(result *measure.Result) {
	result.Notes = r.notes()
	for i := range result.Releves {
		one := &result.Releves[i]
		for _, note := range result.Notes {
			if note.Releve == one.N {
				one.Notes = append(one.Notes, note.Text)
			}
		}
	}
	if r.correction == nil {
		return
	}
	if remark := r.correction.Remark(); !remark.Empty() {
		result.Remark = &remark
	}
}
