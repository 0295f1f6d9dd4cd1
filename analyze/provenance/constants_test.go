package provenance_test

import (
	"bytes"
	"cmp"
	"flag"
	"fmt"
	"go/ast"
	"go/build"
	"go/constant"
	"go/importer"
	"go/parser"
	"go/printer"
	"go/token"
	"go/types"
	"io/fs"
	"maps"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/provenance"
)

var update = flag.Bool("update", false, "write constants.txt and testdata/numbers.txt")

const (
	root   = "../.." // of the module
	module = "aplomb"
)

// notListed are packages whose constants change no number that is put side by side
// with others: they open files, describe, keep or read results and recordings, show
// them while they come about, set a strip against a reference instrument, or make strip
// profiles, which are inputs by their content.
var notListed = []string{"analyze/agreement", "analyze/calibrate", "analyze/dataset", "analyze/document", "analyze/keys", "analyze/live", "analyze/logbook", "analyze/measure", "analyze/provenance", "analyze/scale", "device/correction", "device/input", "device/owneronly", "device/recording"}

// computing returns the folders of all packages of analyze that are not in notListed.
func computing(t *testing.T) (folders []string) {
	err := filepath.WalkDir(filepath.Join(root, "analyze"), func(at string, e fs.DirEntry, err error) error {
		if err != nil || !e.IsDir() {
			return err
		}
		folder, err := filepath.Rel(root, at)
		folder = filepath.ToSlash(folder)
		if sources, e := filepath.Glob(filepath.Join(at, "*.go")); e == nil && len(sources) > 0 && !slices.Contains(notListed, folder) {
			folders = append(folders, folder)
		}
		return err
	})
	require.NoError(t, err)
	return folders
}

// list lists the constants of the packages that compute and of those that they import,
// one a line, except of packages in notListed. changed has the text of files that
// replaces the one on disk, by path in the module.
func list(t *testing.T, changed map[string]string) string {
	c := &checker{t: t, changed: changed, fset: token.NewFileSet(), done: map[string]*types.Package{}, files: map[string][]*ast.File{}, info: &types.Info{Defs: map[*ast.Ident]types.Object{}}}
	c.math = importer.ForCompiler(c.fset, "source", nil)
	for _, folder := range computing(t) {
		_, err := c.Import(module + "/" + folder)
		require.NoError(t, err)
	}
	var lines []string
	for _, folder := range slices.Sorted(maps.Keys(c.files)) {
		if !slices.Contains(notListed, folder) {
			lines = append(lines, c.lines(folder)...)
		}
	}
	return strings.Join(lines, "\n") + "\n"
}

// checker type-checks packages of the module far enough to know the values of
// their constants. It takes packages of others for empty, except math and time.
type checker struct {
	t       *testing.T
	changed map[string]string
	fset    *token.FileSet
	math    types.Importer
	done    map[string]*types.Package
	files   map[string][]*ast.File
	info    *types.Info
}

// durations is what constants use of package time.
const durations = `package time
type Duration int64
const (
	Nanosecond Duration = 1
	Microsecond = 1000 * Nanosecond
	Millisecond = 1000 * Microsecond
	Second = 1000 * Millisecond
	Minute = 60 * Second
	Hour = 60 * Minute
)`

// Import implements types.Importer.
func (c *checker) Import(name string) (*types.Package, error) {
	if p := c.done[name]; p != nil {
		return p, nil
	}
	folder, ours := strings.CutPrefix(name, module+"/")
	var files []*ast.File
	switch {
	case ours:
		files = c.parse(folder)
		c.files[folder] = files
	case name == "math":
		return c.math.Import(name)
	case name == "time":
		file, err := parser.ParseFile(c.fset, "", durations, 0)
		if err != nil {
			return nil, err
		}
		files = []*ast.File{file}
	default:
		p := types.NewPackage(name, path.Base(name))
		p.MarkComplete()
		c.done[name] = p
		return p, nil
	}
	config := types.Config{Importer: c, Error: func(error) {}} // what is missing of others' packages
	p, _ := config.Check(name, c.fset, files, c.info)
	c.done[name] = p
	return p, nil
}

// parse parses the files of a package for one target system, so that the list is the same
// everywhere.
func (c *checker) parse(folder string) (files []*ast.File) {
	system := build.Default
	system.GOOS, system.GOARCH, system.CgoEnabled = "linux", "amd64", false
	p, err := system.ImportDir(filepath.Join(root, folder), 0)
	require.NoError(c.t, err)
	for _, name := range p.GoFiles {
		at := path.Join(folder, name)
		text, ok := c.changed[at]
		if !ok {
			read, err := os.ReadFile(filepath.Join(root, at))
			require.NoError(c.t, err)
			text = string(read)
		}
		file, err := parser.ParseFile(c.fset, at, text, parser.SkipObjectResolution)
		require.NoError(c.t, err)
		files = append(files, file)
	}
	return files
}

// lines lists the constants of a package, then its tables, then the numbers with a
// decimal point in its functions with the number of occurrences.
func (c *checker) lines(folder string) []string {
	var lines []string
	literals := map[string]int{}
	for _, file := range c.files[folder] {
		for _, d := range file.Decls {
			switch d := d.(type) {
			case *ast.GenDecl:
				for _, s := range d.Specs {
					if v, ok := s.(*ast.ValueSpec); ok {
						lines = append(lines, c.values(folder, d.Tok, v)...)
					}
				}
			case *ast.FuncDecl:
				ast.Inspect(d, func(n ast.Node) bool {
					switch n := n.(type) {
					case *ast.GenDecl:
						for _, s := range n.Specs {
							if v, ok := s.(*ast.ValueSpec); ok && n.Tok == token.CONST {
								lines = append(lines, c.values(folder+"."+d.Name.Name, token.CONST, v)...)
							}
						}
						return n.Tok != token.CONST
					case *ast.BasicLit:
						if n.Kind == token.FLOAT {
							literals[written(constant.MakeFromLiteral(n.Value, n.Kind, 0))]++
						}
					}
					return true
				})
			}
		}
	}
	slices.Sort(lines)
	var all []string
	for _, literal := range slices.SortedFunc(maps.Keys(literals), func(a, b string) int { return cmp.Compare(number(a), number(b)) }) {
		all = append(all, fmt.Sprintf("%s (%d)", literal, literals[literal]))
	}
	if len(all) > 0 {
		lines = append(lines, folder+" in functions: "+strings.Join(all, ", "))
	}
	return lines
}

// values lists the numeric constants of a declaration, and its variables with numbers in
// their initial values.
func (c *checker) values(in string, kind token.Token, v *ast.ValueSpec) (lines []string) {
	for i, name := range v.Names {
		switch {
		case kind == token.CONST:
			value := c.info.Defs[name].(*types.Const).Val()
			require.NotEqual(c.t, constant.Unknown, value.Kind(), "%s.%s: its value is not known here", in, name)
			if n := value.Kind(); (n == constant.Int || n == constant.Float) && name.Name != "_" {
				lines = append(lines, fmt.Sprintf("%s.%s = %s", in, name, written(value)))
			}
		case i < len(v.Values):
			numbers := false
			ast.Inspect(v.Values[i], func(n ast.Node) bool {
				l, ok := n.(*ast.BasicLit)
				numbers = numbers || ok && l.Kind != token.STRING
				return !numbers
			})
			if numbers {
				var b bytes.Buffer
				require.NoError(c.t, printer.Fprint(&b, token.NewFileSet(), v.Values[i]))
				lines = append(lines, fmt.Sprintf("%s.%s = %s", in, name, strings.Join(strings.Fields(b.String()), " ")))
			}
		}
	}
	return lines
}

// written returns a constant as the shortest text that is the same float64, or
// as a whole number.
func written(v constant.Value) string {
	if v.Kind() == constant.Int {
		return v.ExactString()
	}
	f, _ := constant.Float64Val(v)
	return strconv.FormatFloat(f, 'g', -1, 64)
}

func number(text string) float64 {
	f, _ := strconv.ParseFloat(text, 64)
	return f
}

// The embedded list of constants equals that of the source.
func TestConstants(t *testing.T) {
	now := list(t, nil)
	if *update {
		require.NoError(t, os.WriteFile("constants.txt", []byte(now), 0o666))
		return
	}
	const do = "go test ./analyze/provenance -update writes constants.txt; stored measures become stale"
	assert.Empty(t, without(now, provenance.Constants), "constants that are new or have changed: %s", do)
	assert.Empty(t, without(provenance.Constants, now), "constants that are gone or have changed: %s", do)
	assert.True(t, now == provenance.Constants, do)
}

// without returns the lines of a text that are not in another.
func without(text, other string) (lines []string) {
	others := strings.Split(other, "\n")
	for line := range strings.SplitSeq(text, "\n") {
		if !slices.Contains(others, line) {
			lines = append(lines, line)
		}
	}
	return lines
}

// Changing a threshold changes the algorithm, whether it is a constant, in a table or a
// number in a function. Changing a comment does not.
func TestAlgorithmFollowsThresholds(t *testing.T) {
	of := func(changed map[string]string) string {
		return provenance.AlgorithmOf(provenance.CodeVersion, list(t, changed))
	}
	before := of(nil)
	assert.Len(t, before, 12)
	for _, c := range []struct{ folder, from, to string }{
		{"analyze/releve", `HoldWithin\s*=\s*0.15`, "HoldWithin = 0.16"},
		{"analyze/field", `0.017, 0.041`, "0.017, 0.042"},
		{"analyze/sway", `1\.5\*interval`, "1.6*interval"},
		{"device", `DefaultSeatSDMM\s*=\s*1.0`, "DefaultSeatSDMM = 1.1"},
	} {
		at, text := fileWith(t, c.folder, regexp.MustCompile(c.from))
		changed := regexp.MustCompile(c.from).ReplaceAllString(text, c.to)
		assert.NotEqual(t, before, of(map[string]string{at: changed}), c.to)
	}
	at, text := fileWith(t, "analyze/releve", regexp.MustCompile("HoldWithin"))
	assert.Equal(t, before, of(map[string]string{at: text + "\n// HoldWithin is a constant.\n"}))
	assert.NotEqual(t, before, provenance.AlgorithmOf(provenance.CodeVersion+1, list(t, nil)))
}

// fileWith returns the path in the module and the text of the first file of a package
// that matches the pattern.
func fileWith(t *testing.T, folder string, pattern *regexp.Regexp) (at, text string) {
	names, err := filepath.Glob(filepath.Join(root, folder, "*.go"))
	require.NoError(t, err)
	for _, name := range names {
		read, err := os.ReadFile(name)
		require.NoError(t, err)
		if pattern.Match(read) && !strings.HasSuffix(name, "_test.go") {
			return path.Join(folder, filepath.Base(name)), string(read)
		}
	}
	require.Fail(t, "not found", "%s in %s", pattern, folder)
	return "", ""
}
