package logbook

import (
	"errors"
	"path/filepath"
)

// DefaultDir returns the folder of the logbook where none is named: that in
// APLOMB_LOGBOOK, else aplomb in the user's data folder. env returns the value of an
// environment variable, as os.Getenv does.
//
// The data folder is that of the XDG Base Directory Specification 0.8: XDG_DATA_HOME if
// it is an absolute path, else .local/share in the home folder. Where HOME is not set, as
// on Windows, it is LOCALAPPDATA.
func DefaultDir(env func(string) string) (string, error) {
	if dir := env("APLOMB_LOGBOOK"); dir != "" {
		return filepath.Abs(dir)
	}
	data := env("XDG_DATA_HOME")
	if home := env("HOME"); !filepath.IsAbs(data) && filepath.IsAbs(home) {
		data = filepath.Join(home, ".local", "share")
	}
	if !filepath.IsAbs(data) {
		data = env("LOCALAPPDATA")
	}
	if !filepath.IsAbs(data) {
		return "", errors.New("no place for a logbook: neither APLOMB_LOGBOOK, XDG_DATA_HOME nor HOME names a folder: set APLOMB_LOGBOOK")
	}
	return filepath.Join(data, "aplomb"), nil
}
