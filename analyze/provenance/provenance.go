// Package provenance identifies the inputs and the program from which numbers were
// computed.
//
// Its central value is the algorithm: a short hash over everything in the program that
// affects numbers. Numbers with the same algorithm are comparable; numbers with different
// ones are not, whatever the versions of the programs that computed them. The hash is
// taken over
//
//   - constants.txt, a generated list of every numeric constant, every table of
//     numbers and every number with a decimal point in the packages that compute, and
//   - codeVersion, a number that is raised by hand when a change of code affects
//     numbers without changing any of these.
//
// Tests verify both: one lists the constants of the source again and fails where the list
// differs, another computes the numbers of recordings and fails where they change under
// the same algorithm. After an intended change,
//
//	go test ./analyze/provenance -update
//
// writes both files.
package provenance

import (
	"context"
	"crypto/sha256"
	_ "embed"
	"encoding/hex"
	"fmt"
	"io"
	"slices"
	"sync"

	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/device/input"
)

// codeVersion is the version of the code that computes measures. Raise it when a change
// of code affects numbers and no constant changes with it.
const codeVersion = 2

//go:embed constants.txt
var constants string

// Algorithm returns the hash of everything in this program that affects numbers.
var Algorithm = sync.OnceValue(func() string { return algorithm(codeVersion, constants) })

// algorithm returns the first 12 hexadecimal digits of the SHA-256 of version and
// constants.
func algorithm(version int, constants string) string {
	return hash(fmt.Sprintf("measures %d\n%s", version, constants))[:12]
}

// New returns the provenance of numbers that this program computes with some
// settings. It has no inputs yet.
func New(s measure.Software, settings measure.Settings) *measure.Provenance {
	return &measure.Provenance{
		Software: s, Format: measure.Format, Algorithm: Algorithm(), Settings: settings,
		Inputs: []measure.Input{}, Strips: []measure.Content{}, Shoes: []measure.Content{},
	}
}

// Add adds a recording with its strips and shoes to p, each unless it is there.
func Add(p *measure.Provenance, in measure.Input, sides [2]*device.Side) {
	p.Inputs = with(p.Inputs, in)
	for _, side := range sides {
		if side == nil {
			continue
		}
		p.Strips = with(p.Strips, measure.Content{Name: side.Strip.Name, SHA256: hash(device.TOML(side.Strip))})
		p.Shoes = with(p.Shoes, measure.Content{Name: side.Shoe.Code, SHA256: hash(device.TOML(side.Shoe))})
	}
}

// Of returns the joint provenance of results, see Joined.
func Of(results []*measure.Result) *measure.Provenance {
	var all []*measure.Provenance
	for _, r := range results {
		all = append(all, r.Provenance)
	}
	return Joined(all...)
}

// Joined returns the provenance of what was computed from several inputs: the inputs,
// strips and shoes of all, each once. Software, algorithm and settings are those of the
// first, since one program computed them all. It returns nil where none has a provenance.
func Joined(all ...*measure.Provenance) *measure.Provenance {
	var joined *measure.Provenance
	for _, p := range all {
		switch {
		case p == nil:
		case joined == nil:
			copied := *p
			copied.Inputs, copied.Strips, copied.Shoes = slices.Clone(p.Inputs), slices.Clone(p.Strips), slices.Clone(p.Shoes)
			joined = &copied
		default:
			joined.Inputs = with(joined.Inputs, p.Inputs...)
			joined.Strips = with(joined.Strips, p.Strips...)
			joined.Shoes = with(joined.Shoes, p.Shoes...)
		}
	}
	return joined
}

// with appends to all those elements of more that it does not contain yet.
func with[T comparable](all []T, more ...T) []T {
	for _, one := range more {
		if !slices.Contains(all, one) {
			all = append(all, one)
		}
	}
	return all
}

func hash(text string) string {
	sum := sha256.Sum256([]byte(text))
	return hex.EncodeToString(sum[:])
}

// SHA256 returns the SHA-256 of a file in hexadecimal and its size in bytes. It
// ends with the error of ctx soon after ctx is done.
func SHA256(ctx context.Context, path string) (sum string, size int64, err error) {
	file, err := input.Open(path)
	if err != nil {
		return "", 0, err
	}
	defer file.Close()
	h := sha256.New()
	block := make([]byte, 1<<18)
	for {
		if err := ctx.Err(); err != nil {
			return "", 0, fmt.Errorf("%s: %w", path, err)
		}
		n, err := file.Read(block)
		h.Write(block[:n])
		size += int64(n)
		switch err {
		case nil:
		case io.EOF:
			return hex.EncodeToString(h.Sum(nil)), size, nil
		default:
			return "", 0, err // an *fs.PathError, which names the file
		}
	}
}
