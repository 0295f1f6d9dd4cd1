package words_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var (
	whole     = regexp.MustCompile(`[^.!?]+(?:[.!?]\S[^.!?]*)*[.!?](?:\s|$)`)
	lineBreak = regexp.MustCompile(`([^\n])\n([^\n])`)
	statement = regexp.MustCompile(`^(INSERT|DELETE|UPDATE|SELECT) `) // of SQL
)

// A sentence for users occurs once in each layer above device, whose texts are parts of
// errors, so that two copies cannot diverge. A sentence here begins with a capital
// letter, has five words or more, and ends with a full stop.
func TestSentencesStandOnce(t *testing.T) {
	for _, floor := range []string{"analyze", "plots", "cmd"} {
		places := map[string][]string{}
		require.NoError(t, fs.WalkDir(os.DirFS("../.."), floor, func(path string, d fs.DirEntry, err error) error {
			if err == nil && !d.IsDir() && strings.HasSuffix(path, ".go") && !strings.HasSuffix(path, "_test.go") {
				for s, at := range sentencesOf(t, path) {
					places[s] = append(places[s], at)
				}
			}
			return err
		}))
		require.NotEmpty(t, places, floor)
		for s, at := range places {
			assert.Len(t, at, 1, "%q stands in %s", s, strings.Join(at, ", "))
		}
	}
}

// sentencesOf returns the sentences of the string literals of a file, with where each stands.
func sentencesOf(t *testing.T, path string) map[string]string {
	files := token.NewFileSet()
	file, err := parser.ParseFile(files, filepath.Join("../..", path), nil, parser.SkipObjectResolution)
	require.NoError(t, err)
	found := map[string]string{}
	ast.Inspect(file, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.ImportSpec:
			return false
		case *ast.Field: // a tag is no text
			if n.Tag != nil {
				return false
			}
		case *ast.BasicLit:
			if n.Kind != token.STRING {
				return true
			}
			text, err := strconv.Unquote(n.Value)
			require.NoError(t, err)
			var own []string
			for _, s := range whole.FindAllString(lineBreak.ReplaceAllString(text, "$1 $2"), -1) {
				s = strings.TrimSpace(s)
				if len(strings.Fields(s)) >= 5 && s[0] >= 'A' && s[0] <= 'Z' && !statement.MatchString(s) && !slices.Contains(own, s) {
					own = append(own, s)
				}
			}
			for _, s := range own {
				at := path + ":" + strconv.Itoa(files.Position(n.Pos()).Line)
				if before, ok := found[s]; ok {
					at = before + " and " + at
					assert.Fail(t, "a sentence stands twice", "%q in %s", s, at)
				}
				found[s] = at
			}
		}
		return true
	})
	return found
}
