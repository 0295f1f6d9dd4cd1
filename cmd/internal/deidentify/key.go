package deidentify

import (
	"context"
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base32"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"time"

	"aplomb/cmd/internal/text"
	"aplomb/device/input"
	"aplomb/device/owneronly"
)

const (
	// leastKey is the length of the shortest key, bytes: that of the output of SHA-256.
	// FIPS 198 requires at least half of that, and states that a longer one adds little.
	leastKey = 32
	// leastKinds is the smallest number of different bytes in a key. A random one of 64
	// hexadecimal digits has fewer than eight of the sixteen with a probability below
	// C(16,7)·(7/16)^64 = 10^-19. The limit is our own, to refuse typed keys.
	leastKinds = 8
	// mostKey bounds the size of a key file, bytes.
	mostKey = 4 << 10
)

// Key is a secret from which new codes and the constant that moves dates follow.
type Key struct{ secret []byte }

// howToMake describes how to create a key file.
func howToMake(path string) string {
	return fmt.Sprintf("--new-key makes one, and so does (umask 077; openssl rand -hex 32 > %s)", text.Quoted(path))
}

// NewKey creates a key file that only its owner can read, with 32 random bytes in
// hexadecimal. It never overwrites a file.
func NewKey(path string) error {
	file, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, owneronly.File)
	if errors.Is(err, fs.ErrExist) {
		return fmt.Errorf("%s exists: leave out --new-key to use the key in it, or name another file", path)
	}
	if err != nil {
		return err
	}
	secret := make([]byte, leastKey)
	rand.Read(secret) // it does not fail
	_, err = fmt.Fprintln(file, hex.EncodeToString(secret))
	if err = errors.Join(err, file.Sync(), file.Close()); err != nil {
		os.Remove(path)
	}
	return err
}

// ReadKey reads a key file: its bytes without white space at either end. It refuses one
// that others can read, and one that is too short or too plain to be random.
func ReadKey(ctx context.Context, path string) (*Key, error) {
	data, err := input.ReadFile(ctx, path, mostKey)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("%s: there is no such key file: %s; a key that was lost cannot be made again, and another one gives other codes", path, howToMake(path))
	}
	if err != nil {
		return nil, fmt.Errorf("key file: %w", err)
	}
	info, err := os.Stat(path)
	if err != nil {
		return nil, err
	}
	if mode := info.Mode().Perm(); mode&0o077 != 0 && runtime.GOOS != "windows" {
		return nil, fmt.Errorf("%s: others can read the key (mode %04o), and with it the codes of the dancers: chmod 600 %s, and make another key if somebody may have", path, mode, text.Quoted(path))
	}
	secret := []byte(strings.TrimSpace(string(data)))
	kinds := map[byte]bool{}
	for _, b := range secret {
		kinds[b] = true
	}
	switch {
	case len(secret) < leastKey:
		return nil, fmt.Errorf("%s: a key of %d bytes is too short, the least is %d: %s", path, len(secret), leastKey, howToMake(path))
	case len(kinds) < leastKinds:
		return nil, fmt.Errorf("%s: a key of only %d different bytes is not random: %s", path, len(kinds), howToMake(path))
	}
	return &Key{secret}, nil
}

// CheckOutside returns an error where the key file lies in the folder of the package,
// which would be handed on with it.
func CheckOutside(path, dir string) error {
	at, err := filepath.Abs(path)
	if err != nil {
		return err
	}
	folder, err := filepath.Abs(dir)
	if err != nil {
		return err
	}
	inside := fmt.Errorf("%s lies in the folder %s, which is to be handed on: keep the key elsewhere", path, dir)
	for _, p := range []string{at, resolved(at)} {
		for _, d := range []string{folder, resolved(folder)} {
			if rel, err := filepath.Rel(d, p); err == nil && rel != ".." && !strings.HasPrefix(rel, ".."+string(filepath.Separator)) {
				return inside
			}
		}
	}
	return nil
}

// resolved returns a path with its symbolic links followed, as far as it exists.
func resolved(path string) string {
	if real, err := filepath.EvalSymlinks(path); err == nil {
		return real
	}
	if up := filepath.Dir(path); up != path {
		return filepath.Join(resolved(up), filepath.Base(path))
	}
	return path
}

// mac returns HMAC-SHA-256 (RFC 2104, FIPS 198-1) under the key over "aplomb", kind and
// original, with a zero byte between them.
func (k *Key) mac(kind, original string) []byte {
	h := hmac.New(sha256.New, k.secret)
	fmt.Fprintf(h, "aplomb\x00%s\x00%s", kind, original)
	return h.Sum(nil)
}

// crockford is Douglas Crockford's Base32 alphabet in lower case: no i, l, o, u.
var crockford = base32.NewEncoding("0123456789abcdefghjkmnpqrstvwxyz").WithPadding(base32.NoPadding)

// codeLength is the number of characters of a new code after its kind, five bits each.
// FIPS 198 allows the leftmost part of the output to be taken. Among 10,000 codes of one
// kind two are the same with a probability of 4 in 10^8; that is an error, see codes.
const codeLength = 10

// code returns the new code of an original of a kind, such as dancer-8zk2m0v4tq, with
// length characters after the kind.
func (k *Key) code(kind, original string, length int) string {
	return kind + "-" + crockford.EncodeToString(k.mac(kind, original))[:length]
}

// DancerCode returns the code of a dancer in packages that are de-identified with the key.
func (k *Key) DancerCode(dancer string) string { return k.code("dancer", dancer, codeLength) }

// The times of a dancer are moved back by leastDays to leastDays + rangedDays − 1 days.
// The bounds are our own choice: far enough that no moved day is a day of the study.
const (
	leastDays  = 3653 // 10 years
	rangedDays = 3287 // 9 years
)

// shift is the time by which the times of a dancer are moved back.
type shift struct {
	days  int           // of a day without a time
	times time.Duration // of a time: the same days and a time of day, in whole seconds
}

// shiftOf returns the shift of a dancer.
func (k *Key) shiftOf(dancer string) shift {
	mac := k.mac("days", dancer)
	days := leastDays + int(binary.BigEndian.Uint64(mac)%rangedDays)
	const day = 24 * 60 * 60
	seconds := days*day + int(binary.BigEndian.Uint64(mac[8:])%day)
	return shift{days, time.Duration(seconds) * time.Second}
}

// codes assigns new codes and stores them.
type codes struct {
	key    *Key
	length int
	given  map[string]string // original with its kind, by new code
	err    error             // the first two originals that have one new code
}

func newCodes(key *Key) *codes { return &codes{key, codeLength, map[string]string{}, nil} }

// of returns the new code of an original, "" for none.
func (c *codes) of(kind, original string) string {
	if original == "" {
		return ""
	}
	code := c.key.code(kind, original, c.length)
	if before, ok := c.given[code]; ok && before != original && c.err == nil {
		c.err = fmt.Errorf("%s %q and %q get the same code under this key: use another key", kind, before, original)
	}
	c.given[code] = original
	return code
}
