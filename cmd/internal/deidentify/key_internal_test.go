package deidentify

import (
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"aplomb/device"
)

const testKey = "000102030405060708090a0b0c0d0e0f101112131415161718191a1b1c1d1e1f"

// Codes and days against Python's hmac and hashlib:
//
//	m = hmac.new(key, b"aplomb\0" + kind + b"\0" + original, hashlib.sha256).digest()
//	v = int.from_bytes(m, "big")
//	"".join("0123456789abcdefghjkmnpqrstvwxyz"[(v >> (251 - 5*i)) & 31] for i in range(10))
//	3653 + int.from_bytes(m[:8], "big") % 3287, int.from_bytes(m[8:16], "big") % 86400
func TestCodes(t *testing.T) {
	k := &Key{[]byte(testKey)}
	assert.Equal(t, "dancer-s6te5nxn41", k.code("dancer", "D7", codeLength))
	assert.Equal(t, "shoe-7pn9wwcgaw", k.code("shoe", "A", codeLength))
	s := k.shiftOf("D7")
	assert.Equal(t, 6612, s.days)
	assert.Equal(t, time.Duration(s.days)*24*time.Hour+70080*time.Second, s.times)
	assert.NotEqual(t, k.code("shoe", "D7", codeLength)[5:], k.code("dancer", "D7", codeLength)[7:], "kinds have codes of their own")
}

// Two originals with one code are detected. With codes of one character a collision among
// 40 is certain.
func TestCollision(t *testing.T) {
	c := newCodes(&Key{[]byte(testKey)})
	for i := range 40 {
		c.of("dancer", fmt.Sprint(i))
		c.of("dancer", fmt.Sprint(i))
	}
	require.NoError(t, c.err)
	c.length = 1
	for i := range 40 {
		c.of("dancer", fmt.Sprint(i))
	}
	assert.ErrorContains(t, c.err, "get the same code under this key: use another key")
	assert.Empty(t, c.of("dancer", ""), "nobody has no code")
}

func TestKeyFile(t *testing.T) {
	dir := t.TempDir()
	at := func(name string) string { return filepath.Join(dir, name) }
	require.NoError(t, NewKey(at("key")))
	assert.ErrorContains(t, NewKey(at("key")), "exists: leave out --new-key")
	k, err := ReadKey(t.Context(), at("key"))
	require.NoError(t, err)
	assert.Regexp(t, "^[0-9a-f]{64}$", string(k.secret))
	info, err := os.Stat(at("key"))
	require.NoError(t, err)
	if runtime.GOOS != "windows" {
		assert.Equal(t, os.FileMode(0o600), info.Mode().Perm())
		require.NoError(t, os.Chmod(at("key"), 0o640))
		_, err = ReadKey(t.Context(), at("key"))
		assert.ErrorContains(t, err, "others can read the key (mode 0640)")
	}
	for content, want := range map[string]string{
		"":                                    "a key of 0 bytes is too short, the least is 32",
		testKey[:31] + "\n":                   "a key of 31 bytes is too short",
		strings.Repeat("secret", 10):          "a key of only 5 different bytes is not random",
		strings.Repeat(testKey, mostKey/64+1): "bad",
	} {
		require.NoError(t, os.WriteFile(at("bad"), []byte(content), 0o600))
		_, err := ReadKey(t.Context(), at("bad"))
		require.ErrorContains(t, err, want)
		assert.NotContains(t, err.Error(), "\n")
	}
	_, err = ReadKey(t.Context(), at("none"))
	assert.ErrorContains(t, err, "there is no such key file: --new-key makes one, and so does (umask 077; openssl rand -hex 32 >")
	_, err = ReadKey(t.Context(), dir)
	assert.ErrorContains(t, err, "a folder")
}

// A key in the folder of the package is refused, also through a symbolic link or in a
// folder that does not exist yet.
func TestKeyOutside(t *testing.T) {
	dir := t.TempDir()
	out, link := filepath.Join(dir, "out"), filepath.Join(dir, "link")
	require.NoError(t, os.Mkdir(out, 0o700))
	assert.NoError(t, CheckOutside(filepath.Join(dir, "key"), out))
	assert.NoError(t, CheckOutside(filepath.Join(dir, "out.key"), out))
	assert.ErrorContains(t, CheckOutside(filepath.Join(out, "key"), out), "is to be handed on: keep the key elsewhere")
	assert.Error(t, CheckOutside(filepath.Join(dir, "new", "deep", "key"), filepath.Join(dir, "new")))
	if err := os.Symlink(out, link); err == nil {
		assert.Error(t, CheckOutside(filepath.Join(out, "key"), link))
		assert.Error(t, CheckOutside(filepath.Join(link, "deep", "key"), out))
	}
}

// The moved day of a calibration gives its age to a month, and all other fields of the
// calibration stay.
func TestCalibrationAge(t *testing.T) {
	k := &Key{[]byte(testKey)}
	rapid.Check(t, func(t *rapid.T) {
		d := &deidentifier{key: k, codes: newCodes(k)}
		made := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
		s := &device.Strip{Name: "L-01", Foot: device.Left, Rows: 1, Cols: 1, Calibration: device.Calibration{Date: device.DateOf(made), ValidDays: rapid.IntRange(0, 400).Draw(t, "valid")}}
		switch rapid.IntRange(0, 3).Draw(t, "hash") {
		case 1:
			s.Calibration.SetHash(s)
		case 2:
			s.Calibration.Hash = "0123456789abcdef"
		case 3:
			s.Calibration.MadeFor = "L-02"
		}
		by := k.shiftOf(rapid.StringMatching(`D[0-9]`).Draw(t, "dancer")).times
		var uses []use
		for _, hours := range rapid.SliceOfN(rapid.IntRange(-24*10, 24*500), 1, 3).Draw(t, "hours") {
			started := made.Add(time.Duration(hours) * time.Hour)
			uses = append(uses, use{started, started.Add(-by)})
		}
		day := d.madeFor(s, uses)
		now := d.strip(s, day)
		first := slices.MinFunc(uses, func(a, b use) int { return a.started.Compare(b.started) })
		moved := time.Date(day.Year, day.Month, day.Day, 0, 0, 0, 0, time.UTC)
		assert.InDelta(t, first.started.Sub(made).Hours()/24, first.moved.Sub(moved).Hours()/24, ageStep+1)
		can := false // whether any day of the two months around it says the same
		for days := -ageStep; days <= ageStep; days++ {
			can = can || d.sameDoubts(s, device.DateOf(moved.AddDate(0, 0, days)), uses)
		}
		assert.Equal(t, can, d.sameDoubts(s, day, uses))
		assert.Equal(t, s.Calibration.Hash == "", now.Calibration.Hash == "")
	})
}

func TestAgeBand(t *testing.T) {
	for years, want := range map[int]string{-1: "0-4", 9: "5-9", 10: "10-14", 14: "10-14", 15: "15-19", 59: "55-59", 60: "60 or more", 90: "60 or more"} {
		assert.Equal(t, want, ageBand(years))
	}
	assert.Equal(t, 55.0, mass(52.6))
}
