package logbook

import (
	"database/sql"
	"math"
	"slices"

	"aplomb/analyze/scale"
	"aplomb/device"
)

// AddStripCheck stores a check of a strip and returns the version of the strip with the
// profile s, with which the check was made. The error is ErrNotFound where the strip has
// no such version.
func (l *Logbook) AddStripCheck(s device.Strip, c scale.Check) (version int, err error) {
	for _, v := range []float64{c.Bias, c.RMSLoad, c.LoadU, c.LimitLoad, c.LimitCoPMM} {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return 0, invalid("check of strip %q: %v is no number", s.Name, v)
		}
	}
	if c.Presses < 1 || c.Bias < -1 || c.RMSLoad < 0 || c.LoadU < 0 || c.LimitLoad <= 0 || c.LimitCoPMM <= 0 || c.Day.IsZero() {
		return 0, invalid("check of strip %q: it needs a day, a press, and limits above 0", s.Name)
	}
	var cop *float64
	if !math.IsNaN(c.RMSCoPMM) {
		cop = &c.RMSCoPMM
	}
	err = l.change(func(tx *sql.Tx) error {
		id, number, err := versionOfStrip(tx, s, "that was checked")
		if err != nil {
			return err
		}
		version = number
		_, err = tx.Exec(`INSERT INTO strip_checks (strip_version_id, day, pass, presses, load_bias, load_rms, cop_rms_mm, load_u, load_limit, cop_limit_mm)
			VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
			id, string(DayOf(c.Day)), c.Pass, c.Presses, c.Bias, c.RMSLoad, cop, c.LoadU, c.LimitLoad, c.LimitCoPMM)
		return err
	})
	return version, err
}

// StripChecks returns the checks of a strip, or of every strip where name is "", by day
// and then in the order in which they were stored.
func (l *Logbook) StripChecks(name string) (all []scale.Check, err error) {
	err = l.read(func(tx *sql.Tx) error {
		return eachOfStrip(tx, name, func(rows *sql.Rows) error {
			var c scale.Check
			var day Day
			var cop *float64
			err := rows.Scan(&c.Strip, &c.Version, &day, &c.Pass, &c.Presses, &c.Bias, &c.RMSLoad, &cop, &c.LoadU, &c.LimitLoad, &c.LimitCoPMM)
			c.Day, c.RMSCoPMM = day.Time(), math.NaN()
			if cop != nil {
				c.RMSCoPMM = *cop
			}
			all = append(all, c)
			return err
		}, `SELECT s.code, v.version, day, pass, presses, load_bias, load_rms, cop_rms_mm, load_u, load_limit, cop_limit_mm
			FROM strip_checks c JOIN strip_versions v ON v.id = strip_version_id JOIN strips s ON s.id = v.item_id
			WHERE ?1 = '' OR s.key = ?1 ORDER BY day, c.id`)
	})
	return all, err
}

// StripUses returns the feet of recordings with their strips as they were when they
// were recorded, on the days of their visits.
func (l *Logbook) StripUses(recordings []Recording, feet ...device.Foot) (uses []scale.Use, err error) {
	versions, err := l.strips("")
	if err != nil {
		return nil, err
	}
	at := map[string]*device.Strip{}
	for i, s := range versions {
		at[versionName(s.Name, s.Version)] = &versions[i].Strip
	}
	for _, r := range recordings {
		for foot, f := range r.Feet {
			if f != nil && slices.Contains(feet, device.Foot(foot)) {
				uses = append(uses, scale.Use{Foot: device.Foot(foot), Strip: at[versionName(f.Strip, f.StripVersion)], Day: r.Day.Time()})
			}
		}
	}
	return uses, nil
}
