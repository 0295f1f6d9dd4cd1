package logbook

import (
	"database/sql"
	"errors"
	"fmt"
	"strings"
)

// itemTables are the tables of one kind of item, shoes or strips, with their
// versions.
type itemTables struct {
	kind string
	// fixed is the condition for a version in the table {}_versions to be immutable:
	// something measured with it refers to it.
	fixed string
}

var (
	shoeTables  = itemTables{"shoe", recordedWith}
	stripTables = itemTables{"strip", `(` + recordedWith + ` OR EXISTS (SELECT 1 FROM strip_checks WHERE strip_version_id = strip_versions.id)
		OR EXISTS (SELECT 1 FROM agreements WHERE strip_version_id = strip_versions.id))`}
)

// recordedWith is the condition for a version to have recordings.
const recordedWith = `EXISTS (SELECT 1 FROM recorded_feet WHERE {}_version_id = {}_versions.id)`

// version is one version of an item.
type version struct {
	code    string // of the item, as it was first written
	number  int    // from 1
	profile string // TOML
	current bool
	used    bool // recordings were made with it
}

// sql returns a query for the tables of this kind, with s.fixed for {fixed}. Both are
// constants above; values from outside are bound as parameters.
func (s itemTables) sql(query string) string {
	return strings.ReplaceAll(strings.ReplaceAll(query, "{fixed}", s.fixed), "{}", s.kind)
}

func (s itemTables) notFoundError(code string) error {
	return fmt.Errorf("%s %.80q: %w", s.kind, code, ErrNotFound)
}

// find returns the id of the item of that code.
func (s itemTables) find(tx *sql.Tx, code string) (id int64, err error) {
	err = tx.QueryRow(s.sql(`SELECT id FROM {}s WHERE key = ?`), keyOf(code)).Scan(&id)
	if errors.Is(err, sql.ErrNoRows) {
		err = s.notFoundError(code)
	}
	return id, err
}

// add enters a new item.
func (s itemTables) add(tx *sql.Tx, code, profile string) (id int64, err error) {
	_, err = s.find(tx, code)
	if err == nil {
		return 0, fmt.Errorf("%s %q: %w", s.kind, code, ErrExists)
	}
	if !errors.Is(err, ErrNotFound) {
		return 0, err
	}
	if id, err = s.insert(tx, code); err != nil {
		return 0, err
	}
	_, err = s.append(tx, id, profile, true)
	return id, err
}

func (s itemTables) insert(tx *sql.Tx, code string) (id int64, err error) {
	err = tx.QueryRow(s.sql(`INSERT INTO {}s (code, key, current) VALUES (?, ?, 1) RETURNING id`), code, keyOf(code)).Scan(&id)
	return id, err
}

// append adds a version with the next number.
func (s itemTables) append(tx *sql.Tx, id int64, profile string, entered bool) (versionID int64, err error) {
	err = tx.QueryRow(s.sql(`INSERT INTO {}_versions (item_id, version, profile, entered)
		SELECT ?1, coalesce(max(version), 0) + 1, ?2, ?3 FROM {}_versions WHERE item_id = ?1 RETURNING id`), id, profile, entered).Scan(&versionID)
	return versionID, err
}

// edit makes profile the current version of an item: an earlier version with the same
// content, the current version changed where nothing was measured with it, or a new
// version.
func (s itemTables) edit(tx *sql.Tx, id int64, profile string) error {
	result, err := tx.Exec(s.sql(`UPDATE {}_versions SET entered = 1 WHERE item_id = ? AND profile = ?`), id, profile)
	if err != nil {
		return err
	}
	if n, err := result.RowsAffected(); n == 0 && err == nil {
		result, err = tx.Exec(s.sql(`UPDATE {}_versions SET profile = ?2 WHERE item_id = ?1
			AND version = (SELECT current FROM {}s WHERE id = ?1)
			AND NOT {fixed}`), id, profile)
		if err != nil {
			return err
		}
		if n, err := result.RowsAffected(); n == 0 && err == nil {
			_, err = s.append(tx, id, profile, true)
			if err != nil {
				return err
			}
		}
	}
	_, err = tx.Exec(s.sql(`UPDATE {}s SET current = (SELECT version FROM {}_versions WHERE item_id = ?1 AND profile = ?2) WHERE id = ?1`), id, profile)
	return err
}

// fromRecording returns the version with which a recording was made. It adds the item or
// the version where the logbook does not have it. A version that a user entered stays the
// current one.
func (s itemTables) fromRecording(tx *sql.Tx, code, profile string) (versionID int64, err error) {
	id, err := s.find(tx, code)
	if errors.Is(err, ErrNotFound) {
		id, err = s.insert(tx, code)
	}
	if err != nil {
		return 0, err
	}
	err = tx.QueryRow(s.sql(`SELECT id FROM {}_versions WHERE item_id = ? AND profile = ?`), id, profile).Scan(&versionID)
	if !errors.Is(err, sql.ErrNoRows) {
		return versionID, err
	}
	if versionID, err = s.append(tx, id, profile, false); err != nil {
		return 0, err
	}
	return versionID, s.updateCurrent(tx)
}

// dropUnused drops versions that no user entered and nothing was measured with, and items
// without a version.
func (s itemTables) dropUnused(tx *sql.Tx) error {
	_, err := tx.Exec(s.sql(`DELETE FROM {}_versions WHERE NOT entered AND NOT {fixed}`))
	if err != nil {
		return err
	}
	if _, err := tx.Exec(s.sql(`DELETE FROM {}s WHERE NOT EXISTS (SELECT 1 FROM {}_versions WHERE item_id = {}s.id)`)); err != nil {
		return err
	}
	return s.updateCurrent(tx)
}

// updateCurrent makes the latest version the current one of items that no user entered or
// whose current version was dropped.
func (s itemTables) updateCurrent(tx *sql.Tx) error {
	_, err := tx.Exec(s.sql(`UPDATE {}s SET current = (SELECT max(version) FROM {}_versions WHERE item_id = {}s.id)
		WHERE NOT EXISTS (SELECT 1 FROM {}_versions WHERE item_id = {}s.id AND entered AND version = current)`))
	return err
}

// remove removes an item unless recordings were made with it.
func (s itemTables) remove(tx *sql.Tx, code string) error {
	id, err := s.find(tx, code)
	if err != nil {
		return err
	}
	var used int
	err = tx.QueryRow(s.sql(`SELECT count(DISTINCT recording_id) FROM recorded_feet JOIN {}_versions v ON v.id = {}_version_id WHERE item_id = ?`), id).Scan(&used)
	if err != nil {
		return err
	}
	if used > 0 {
		return fmt.Errorf("%s %q: %w (%d): remove those first", s.kind, code, ErrInUse, used)
	}
	_, err = tx.Exec(s.sql(`DELETE FROM {}s WHERE id = ?`), id)
	return err
}

// versions lists versions by code and number: those of one code, or of all where
// code is "".
func (s itemTables) versions(tx *sql.Tx, code string) (all []version, err error) {
	err = each(tx, func(rows *sql.Rows) error {
		var v version
		err := rows.Scan(&v.code, &v.number, &v.profile, &v.current, &v.used)
		all = append(all, v)
		return err
	}, s.sql(`SELECT code, version, profile, version = current,
		EXISTS (SELECT 1 FROM recorded_feet WHERE {}_version_id = v.id)
		FROM {}_versions v JOIN {}s i ON i.id = v.item_id
		WHERE ?1 = '' OR key = ?1 ORDER BY key, version`), keyOf(code))
	if err == nil && len(all) == 0 && code != "" {
		err = s.notFoundError(code)
	}
	return all, err
}
