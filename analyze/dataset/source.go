package dataset

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"time"

	"aplomb/analyze/compare"
	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/analyze/scale"
	"aplomb/device"
	"aplomb/device/correction"
)

// Source is the input of the tables.
type Source struct {
	Units   []Unit
	Visits  []logbook.Visit  // in the logbook; others are derived from the recordings
	Dancers []logbook.Dancer // likewise
	Checks  []scale.Check    // of the strips, used in comparisons
	Studies []Study          // by name
	// AgeBands holds, by code of the dancer, the age band at the first visit, such as
	// 15-19, which replaces the year of birth; nil without de-identification.
	AgeBands map[string]string
}

// Unit holds the recordings that were analyzed together: those of one visit of a dancer.
type Unit struct {
	Dancer     string // "" where no recording names one
	Visit      string
	Day        string
	Recordings []Recording         // in the order in which they were made
	Comparison *compare.Comparison // nil where nothing was compared
}

// Recording is one recording of a unit.
type Recording struct {
	ID         string // see package recording; of a damaged one "sha256-" and the first 12 digits of the file's SHA-256
	File       string // path in the dataset
	Correction string // likewise; "" where there is none
	SHA256     string // of the file
	Number     int64  // in the logbook; 0 outside one
	Meta       device.Metadata
	Remark     correction.Remark
	Result     *measure.Result // nil where it was not measured
	Counts     []Count         // of all frames; nil unless the table of frames is requested
	Failed     string          // why it was not measured, where action is needed
}

// VisitOf returns the name of the visit in which a recording was made, and its day: that
// of the metadata, or else the day of its start, UTC.
func VisitOf(m *device.Metadata) (name, day string) {
	name = cmp.Or(m.Visit, m.Started.UTC().Format(time.DateOnly))
	return name, name[:min(len(name), len(time.DateOnly))]
}

// ContentOf returns the SHA-256 of a shoe or a strip, in hexadecimal: that of its TOML.
func ContentOf(profile any) string {
	sum := sha256.Sum256([]byte(device.TOML(profile)))
	return hex.EncodeToString(sum[:])
}

// foot is one foot of a recording.
type foot struct {
	unit     *Unit
	rec      *Recording
	foot     device.Foot
	side     *device.Side
	mounting string // id, see mountingID
}

// feet returns the feet of all recordings that were measured, left before right.
func (s *Source) feet() []foot {
	var all []foot
	for u := range s.Units {
		unit := &s.Units[u]
		ids := map[string]string{}
		for r := range unit.Recordings {
			rec := &unit.Recordings[r]
			for _, f := range device.Feet {
				if side := rec.Meta.Sides[f]; side != nil && rec.Result != nil {
					all = append(all, foot{unit, rec, f, side, mountingID(ids, rec.ID, f, side)})
				}
			}
		}
	}
	return all
}

// mountingID returns the id of a mounting: that of its first recording with the foot. ids
// holds those of the unit so far. A mounting without a name is of one recording.
func mountingID(ids map[string]string, recording string, f device.Foot, side *device.Side) string {
	id := recording + "-" + f.String()
	if side.Mounting == "" {
		return id
	}
	key := fmt.Sprintf("%s\x00%s\x00%s\x00%s", f, side.Strip.Name, side.Shoe.Code, side.Mounting)
	if first, ok := ids[key]; ok {
		return first
	}
	ids[key] = id
	return id
}

// profiles returns the shoes or strips of all recordings, one of each content, by code and
// then by content.
func profiles[T any](s *Source, of func(*device.Side) *T, code func(*T) string) []*T {
	type entry struct {
		code, sum string
		profile   *T
	}
	var all []entry
	seen := map[string]bool{}
	for _, unit := range s.Units {
		for _, rec := range unit.Recordings {
			for _, side := range rec.Meta.Sides {
				if side == nil {
					continue
				}
				p := of(side)
				if sum := ContentOf(p); !seen[sum] {
					seen[sum] = true
					all = append(all, entry{code(p), sum, p})
				}
			}
		}
	}
	slices.SortFunc(all, func(a, b entry) int { return cmp.Or(cmp.Compare(a.code, b.code), cmp.Compare(a.sum, b.sum)) })
	found := make([]*T, len(all))
	for i, e := range all {
		found[i] = e.profile
	}
	return found
}

// Shoes returns the shoes of all recordings, one of each content, by code.
func (s *Source) Shoes() []*device.Shoe {
	return profiles(s, func(side *device.Side) *device.Shoe { return side.Shoe }, func(p *device.Shoe) string { return p.Code })
}

// Strips returns the strips of all recordings, one of each content, by name.
func (s *Source) Strips() []*device.Strip {
	return profiles(s, func(side *device.Side) *device.Strip { return side.Strip }, func(p *device.Strip) string { return p.Name })
}

// visits returns the visits of all units, once each: from the logbook, or else from the
// metadata of the recordings.
func (s *Source) visits() []logbook.Visit {
	all := slices.Clone(s.Visits)
	for i := range s.Units {
		u := &s.Units[i]
		if !slices.ContainsFunc(all, func(v logbook.Visit) bool { return v.Dancer == u.Dancer && v.Name() == u.Visit }) {
			all = append(all, visitOf(u))
		}
	}
	return all
}

// visitOf returns the visit of a unit according to the metadata of its recordings.
func visitOf(u *Unit) logbook.Visit {
	v := logbook.Visit{Dancer: u.Dancer, Day: logbook.Day(u.Day), Number: 1}
	if _, err := fmt.Sscanf(u.Visit, u.Day+"-%d", &v.Number); err != nil {
		v.Number = 1
	}
	return v
}

// dancer is a dancer with the age band, "" where the year of birth is given.
type dancer struct {
	logbook.Dancer
	ageBand string
}

// dancers returns the dancers of all units, once each.
func (s *Source) dancers() []dancer {
	var all []dancer
	for _, d := range s.Dancers {
		all = append(all, dancer{d, s.AgeBands[d.Code]})
	}
	for _, u := range s.Units {
		if u.Dancer != "" && !slices.ContainsFunc(all, func(d dancer) bool { return d.Code == u.Dancer }) {
			all = append(all, dancer{Dancer: logbook.Dancer{Code: u.Dancer}})
		}
	}
	slices.SortStableFunc(all, func(a, b dancer) int { return cmp.Compare(a.Code, b.Code) })
	return all
}
