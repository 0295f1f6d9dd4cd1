package logbook

import (
	"database/sql"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"aplomb/analyze/measure"
	"aplomb/analyze/mounting"
	"aplomb/analyze/plan"
	"aplomb/device"
	"aplomb/device/correction"
)

// PutPlan stores a plan with a visit, and replaces an earlier one. The error is
// ErrNotFound where a shoe is not in the logbook. When a shoe is removed later, its steps
// are removed too. Recordings do not contain the plan, so Rebuild cannot restore it.
func (l *Logbook) PutPlan(visitID int64, p plan.Plan) error {
	if p.Releves < 1 || len(p.Steps) == 0 {
		return invalid("a plan of %d steps, %d relevés each", len(p.Steps), p.Releves)
	}
	if p.Releves > MostRises {
		return invalid("%d relevés in a mounting: at most %d", p.Releves, MostRises)
	}
	for _, s := range p.Steps {
		if s.Mounting < 1 {
			return invalid("mounting %d of shoe %.80q", s.Mounting, s.Shoe)
		}
		if s.Releves != p.Releves {
			return invalid("%d relevés of shoe %.80q in a plan of %d in every mounting", s.Releves, s.Shoe, p.Releves)
		}
	}
	if _, err := l.Visit(visitID); err != nil {
		return err
	}
	return l.change(func(tx *sql.Tx) error {
		if _, err := tx.Exec(`DELETE FROM plans WHERE visit_id = ?`, visitID); err != nil {
			return err
		}
		if _, err := tx.Exec(`INSERT INTO plans (visit_id, seed, releves, feet) VALUES (?, ?, ?, ?)`, visitID, int64(p.Seed), p.Releves, planFeet[p.Feet]); err != nil {
			return err
		}
		for i, s := range p.Steps {
			shoe, err := shoeTables.find(tx, s.Shoe)
			if err != nil {
				return err
			}
			if _, err := tx.Exec(`INSERT INTO plan_steps (visit_id, step, shoe_id, mounting) VALUES (?, ?, ?, ?)`, visitID, i+1, shoe, s.Mounting); err != nil {
				return err
			}
		}
		return nil
	})
}

// Plan returns the plan of a visit; ErrNotFound where it has none. Its shoes are in the
// order in which they are first worn.
func (l *Logbook) Plan(visitID int64) (plan.Plan, error) {
	var seed int64
	var feet string
	var steps []plan.Step
	err := l.read(func(tx *sql.Tx) error {
		var releves int
		err := tx.QueryRow(`SELECT seed, releves, feet FROM plans WHERE visit_id = ?`, visitID).Scan(&seed, &releves, &feet)
		if err != nil && !errors.Is(err, sql.ErrNoRows) {
			return err
		}
		return each(tx, func(rows *sql.Rows) error {
			s := plan.Step{Releves: releves}
			err := rows.Scan(&s.Shoe, &s.Mounting)
			steps = append(steps, s)
			return err
		}, `SELECT code, mounting FROM plan_steps JOIN shoes ON shoes.id = shoe_id WHERE visit_id = ? ORDER BY step`, visitID)
	})
	if err == nil && len(steps) == 0 {
		err = fmt.Errorf("plan of visit number %d: %w", visitID, ErrNotFound)
	}
	if err != nil {
		return plan.Plan{}, err
	}
	p := plan.FromSteps(uint64(seed), steps)
	for is, name := range planFeet {
		if name == feet {
			p.Feet = is
		}
	}
	return p, nil
}

// planFeet are the names of the feet of a plan in the database.
var planFeet = map[[2]bool]string{{}: "", {true, true}: "both", {true, false}: "left", {false, true}: "right"}

// PlanProgress returns the progress of a visit's plan; ErrNotFound where it has none. A
// recording whose measures are missing or stale counts for its step, with an unknown
// number of relevés. Practice with live feedback does not count.
func (l *Logbook) PlanProgress(visitID int64) (plan.Progress, error) {
	return l.PlanProgressNamed(visitID, func(code string) string { return code })
}

// PlanProgressNamed is PlanProgress with names instead of the codes of shoes.
func (l *Logbook) PlanProgressNamed(visitID int64, name func(code string) string) (plan.Progress, error) {
	p, err := l.Plan(visitID)
	if err != nil {
		return plan.Progress{}, err
	}
	for i := range p.Steps {
		p.Steps[i].Shoe = name(p.Steps[i].Shoe)
	}
	for i := range p.Shoes {
		p.Shoes[i] = name(p.Shoes[i])
	}
	made, err := l.Recordings(Filter{VisitID: visitID})
	if err != nil {
		return plan.Progress{}, err
	}
	var done []plan.Recorded
	for _, r := range made {
		if r.Feedback == device.FeedbackLive {
			continue
		}
		releves, err := l.Releves(r.ID)
		if err != nil {
			return plan.Progress{}, err
		}
		one := Recorded(r, releves)
		one.Shoe = namedShoes(one.Shoe, name)
		done = append(done, one)
	}
	return p.Follow(done), nil
}

// Recorded returns a recording with its relevés in the form of package plan, under its
// number in the logbook.
func Recorded(r Recording, releves []Releve) plan.Recorded {
	done := plan.Recorded{Name: strconv.FormatInt(r.ID, 10), Decision: decisions[r.Remark.Decision]}
	named := true
	for f, foot := range r.Feet {
		if foot == nil {
			continue
		}
		done.Feet[f] = true
		done.Shoe = joinFeet(done.Shoe, foot.Shoe)
		done.Mounting = joinFeet(done.Mounting, foot.Mounting)
		named = named && foot.Mounting != ""
	}
	if !named {
		done.Mounting = ""
	}
	if r.Measures != Current {
		done.Releves = [2]int{-1, -1}
		return done
	}
	for _, one := range releves {
		if !one.Aborted {
			done.Releves[one.Foot]++
		}
	}
	return done
}

// decisions maps the words of remarks to the decisions of a plan.
var decisions = map[string]plan.Decision{correction.Use: plan.Use, correction.Repeat: plan.Reject, correction.Discard: plan.Reject}

// Rises returns the number of rises in a recording, including aborted and discarded ones,
// as of its last analysis. Measures stored by older versions do not include discarded
// ones.
func (l *Logbook) Rises(recordingID int64) (n int, err error) {
	err = l.read(func(tx *sql.Tx) error {
		return tx.QueryRow(`SELECT coalesce(rises, (SELECT count(DISTINCT n) FROM releves WHERE recording_id = r.id)) FROM recordings r WHERE id = ?`, recordingID).Scan(&n)
	})
	return n, err
}

// RisesOfVisit returns the number of rises in all recordings of a visit, as Rises counts
// them.
func (l *Logbook) RisesOfVisit(visitID int64) (n int, err error) {
	made, err := l.Recordings(Filter{VisitID: visitID})
	if err != nil {
		return 0, err
	}
	for _, r := range made {
		one, err := l.Rises(r.ID)
		if err != nil {
			return 0, err
		}
		n += one
	}
	return n, nil
}

// between separates the values of two feet where they differ.
const between = " / "

// joinFeet joins the values of two feet; equal values appear once.
func joinFeet(a, b string) string {
	if a == "" || a == b {
		return b
	}
	return a + between + b
}

// namedShoes replaces the codes of shoes by their names in a text from joinFeet.
func namedShoes(joined string, name func(code string) string) string {
	left, right, two := strings.Cut(joined, between)
	if !two {
		return name(joined)
	}
	return name(left) + between + name(right)
}

// NoiseOver returns the noise that limits the detectable difference in over between two
// shoes of a dancer, from the dancer's measures in the logbook and the latest of other
// dancers (see Filter.Informing), except stale ones and those of dancers whose consent is
// withdrawn.
func (l *Logbook) NoiseOver(dancer string) (plan.Noise, error) {
	rows, _, err := l.usable(Filter{Informing: []string{dancer}}, measure.Over)
	if err != nil {
		return plan.Noise{}, err
	}
	versions, err := l.strips("")
	if err != nil {
		return plan.Noise{}, err
	}
	return noiseOver(dancer, rows, versions), nil
}

// noiseOver returns the noise of over under the least repeatable of some strips. The
// scatter is that of the dancer's relevés within a mounting, the sensor's part that of
// all rows on that strip. versions are those of every strip.
//
// The seat is that of mountings of the strip with a pad press, where there are any, else
// that of its profile.
//
// The sensor's part is the root mean square of the uncertainty of a relevé without the
// seat. It is an upper bound: what two shoes on one strip have in common cancels in their
// difference, and sway is in the scatter as well.
func noiseOver(dancer string, rows []MeasureRow, versions []Strip) plan.Noise {
	strip := leastRepeatable(versions)
	var mountings []mounting.Row
	for i := range rows {
		mountings = append(mountings, rows[i].mountingRow())
	}
	n := plan.NoiseOver(withinMountings(dancer, rows), strip.Mount, mounting.New(mountings).Effect(dancer, measure.Over))
	n.Strip = strip.Name
	seats := map[string]float64{}
	for _, v := range versions {
		seats[versionName(v.Name, v.Version)] = v.Mount.SeatSDMM
	}
	sum, count, found, presses := 0.0, 0, 0.0, 0
	for _, r := range rows {
		if r.Strip != strip.Name {
			continue
		}
		seat := seats[versionName(r.Strip, r.StripVersion)]
		if r.Evidence != "" {
			seat = r.USeat
		}
		if r.U != nil {
			sum += max(0, *r.U**r.U-seat*seat)
			count++
		}
		if r.Evidence == measure.EvidencePress {
			found += seat * seat
			presses++
		}
	}
	if count > 0 {
		n.Sensor = math.Sqrt(sum / float64(count))
	}
	if presses > 0 {
		n.Seat, n.SeatDOF, n.Assumed, n.Pressed = math.Sqrt(found/float64(presses)), math.Inf(1), false, true
	}
	return n
}

func versionName(code string, version int) string { return fmt.Sprintf("%q %d", code, version) }

// leastRepeatable returns the strip with the least repeatable mountings by its current
// profile; without strips, one with the default repeatability.
func leastRepeatable(versions []Strip) device.Strip {
	worst := device.Strip{Mount: device.Mount{SeatSDMM: device.DefaultSeatSDMM}}
	for _, v := range versions {
		if v.Current && (worst.Name == "" || v.Mount.SeatSDMM > worst.Mount.SeatSDMM) {
			worst = v.Strip
		}
	}
	return worst
}

// withinMountings groups a dancer's values by foot, shoe, strip, mounting, support and
// rise. Every recording without a named mounting counts as a mounting of its own.
func withinMountings(dancer string, rows []MeasureRow) (groups [][]float64) {
	type group struct {
		foot                  device.Foot
		shoe, strip, mounting string
		recording             int64
		support, rise         string
	}
	at := map[group]int{}
	for _, r := range rows {
		if r.Dancer != dancer {
			continue
		}
		g := group{r.Foot, versionName(r.Shoe, r.ShoeVersion), r.Strip, r.Mounting, 0, r.Support, r.Rise}
		if r.Mounting == "" {
			g.recording = r.RecordingID
		}
		i, ok := at[g]
		if !ok {
			i = len(groups)
			at[g] = i
			groups = append(groups, nil)
		}
		groups[i] = append(groups[i], r.Value)
	}
	return groups
}
