package logbook

import (
	"cmp"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"math"
	"slices"

	"aplomb/analyze/measure"
	"aplomb/device"
)

// AddAgreement stores the agreement of a strip with a reference, and returns the version
// of the strip with the profile s, with which the recording was made. It replaces an
// agreement of the same version, day and file of the reference. The error is ErrNotFound
// where the strip has no such version.
func (l *Logbook) AddAgreement(s device.Strip, a measure.Agreement) (version int, err error) {
	for _, m := range a.Measures {
		if sum := m.Bias + m.Lower + m.Upper; math.IsNaN(sum) || math.IsInf(sum, 0) || m.Upper < m.Lower || m.Holds < 3 {
			return 0, invalid("agreement of strip %q: %s needs a bias and limits from 3 holds or more", s.Name, m.Measure)
		}
	}
	if a.Day.IsZero() || len(a.Reference) != 2*sha256.Size {
		return 0, invalid("agreement of strip %q: it needs a day and the SHA-256 of the reference", s.Name)
	}
	err = l.change(func(tx *sql.Tx) error {
		id, number, err := versionOfStrip(tx, s, "of the recording")
		if err != nil {
			return err
		}
		version = number
		day := string(DayOf(a.Day))
		if _, err := tx.Exec(`DELETE FROM agreements WHERE strip_version_id = ? AND reference_sha256 = ? AND day = ?`, id, a.Reference, day); err != nil {
			return err
		}
		var recording *int64
		if a.Recording != 0 {
			recording = &a.Recording
		}
		made, err := tx.Exec(`INSERT INTO agreements (strip_version_id, recording_id, day, instrument, reference_sha256, simulated, evidence) VALUES (?, ?, ?, ?, ?, ?, ?)`,
			id, recording, day, a.Instrument, a.Reference, a.Simulated, string(a.Evidence))
		if err != nil {
			return err
		}
		if id, err = made.LastInsertId(); err != nil {
			return err
		}
		for _, m := range a.Measures {
			if _, err := tx.Exec(`INSERT INTO agreed_measures (agreement_id, measure, holds, bias, lower, upper) VALUES (?, ?, ?, ?, ?, ?)`,
				id, m.Measure.Symbol(), m.Holds, m.Bias, m.Lower, m.Upper); err != nil {
				return err
			}
		}
		return nil
	})
	return version, err
}

// RemoveAgreements removes the agreements of a strip with the reference file of that SHA-256
// on that day, one for each version of the strip, and returns their number.
func (l *Logbook) RemoveAgreements(strip, reference string, day Day) (removed int64, err error) {
	err = l.change(func(tx *sql.Tx) error {
		done, err := tx.Exec(`DELETE FROM agreements WHERE reference_sha256 = ? AND day = ? AND strip_version_id IN
			(SELECT v.id FROM strip_versions v JOIN strips s ON s.id = v.item_id WHERE s.key = ?)`, reference, string(day), keyOf(strip))
		if err == nil {
			removed, err = done.RowsAffected()
		}
		return err
	})
	return removed, err
}

// Agreements returns the agreements with references of a strip, or of every strip where
// name is "", by day and then in the order in which they were stored. Measures that this
// program does not know are left out.
func (l *Logbook) Agreements(name string) (all []measure.Agreement, err error) {
	err = l.read(func(tx *sql.Tx) error {
		var ids []int64
		err := eachOfStrip(tx, name, func(rows *sql.Rows) error {
			var a measure.Agreement
			var id int64
			var day Day
			var recording *int64
			var profile, evidence string
			err := rows.Scan(&id, &a.Strip, &a.Version, &profile, &recording, &day, &a.Instrument, &a.Reference, &a.Simulated, &evidence)
			a.Day, a.Evidence = day.Time(), measure.Evidence(evidence)
			if recording != nil {
				a.Recording = *recording
			}
			sum := sha256.Sum256([]byte(profile))
			a.StripSHA256 = hex.EncodeToString(sum[:])
			ids, all = append(ids, id), append(all, a)
			return err
		}, `SELECT a.id, s.code, v.version, v.profile, recording_id, day, instrument, reference_sha256, simulated, evidence
			FROM agreements a JOIN strip_versions v ON v.id = strip_version_id JOIN strips s ON s.id = v.item_id
			WHERE ?1 = '' OR s.key = ?1 ORDER BY day, a.id`)
		for i := range all {
			err = cmp.Or(err, each(tx, func(rows *sql.Rows) error {
				var m measure.Agreed
				var symbol string
				err := rows.Scan(&symbol, &m.Holds, &m.Bias, &m.Lower, &m.Upper)
				if m.Measure.UnmarshalText([]byte(symbol)) == nil {
					all[i].Measures = append(all[i].Measures, m)
				}
				return err
			}, `SELECT measure, holds, bias, lower, upper FROM agreed_measures WHERE agreement_id = ?`, ids[i]))
			slices.SortFunc(all[i].Measures, func(a, b measure.Agreed) int { return cmp.Compare(a.Measure, b.Measure) })
		}
		return err
	})
	return all, err
}
