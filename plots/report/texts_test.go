package report

import (
	"go/ast"
	"go/parser"
	"go/token"
	"html/template"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"text/template/parse"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var (
	placeholder = regexp.MustCompile(`\{(\d+)\}`)
	anyLetter   = regexp.MustCompile(`\pL`)
	element     = regexp.MustCompile(`(?s)<style>.*?</style>|<[^<>]*>`)
	accessible  = regexp.MustCompile(`\b(?:aria-label|title|alt|summary|placeholder)="([^"]*)"`)
)

// usedKeys has the keys of texts that are used, each with the number of arguments
// of every use.
type usedKeys map[string][]int

// addTemplate adds the keys that a template uses. The template may have no other
// text and no other strings.
func (s usedKeys) addTemplate(t *testing.T, page *template.Template) {
	var literal strings.Builder // the text of the page, an × for each action
	var walk func(n parse.Node)
	walk = func(n parse.Node) {
		switch n := n.(type) {
		case *parse.ListNode:
			if n != nil {
				for _, one := range n.Nodes {
					walk(one)
				}
			}
		case *parse.TextNode:
			literal.Write(n.Text)
		case *parse.ActionNode:
			literal.WriteString("×")
			walk(n.Pipe)
		case *parse.IfNode:
			walk(n.Pipe)
			walk(n.List)
			walk(n.ElseList)
		case *parse.RangeNode:
			walk(n.Pipe)
			walk(n.List)
			walk(n.ElseList)
		case *parse.WithNode:
			walk(n.Pipe)
			walk(n.List)
			walk(n.ElseList)
		case *parse.PipeNode:
			for _, c := range n.Cmds {
				walk(c)
			}
		case *parse.CommandNode:
			if f, ok := n.Args[0].(*parse.IdentifierNode); ok && f.Ident == "say" {
				key := n.Args[1].(*parse.StringNode).Text
				s[key] = append(s[key], len(n.Args)-2)
				for _, a := range n.Args[2:] {
					walk(a)
				}
				return
			}
			for _, a := range n.Args {
				walk(a)
			}
		case *parse.StringNode:
			t.Errorf("%s: an action has the string %s", page.Name(), n.Quoted)
		}
	}
	for _, part := range page.Templates() {
		walk(part.Tree.Root)
	}
	html := literal.String()
	for _, m := range accessible.FindAllStringSubmatch(html, -1) {
		assert.False(t, anyLetter.MatchString(m[1]), "%s: %s", page.Name(), m[0])
	}
	text := element.ReplaceAllString(html, "")
	assert.False(t, anyLetter.MatchString(text), "%s has words of its own: %.200q", page.Name(), strings.Join(strings.Fields(text), " "))
}

// addSource adds the keys that the package's Go files use. A string in them that is
// neither a key nor an error may have no words.
func (s usedKeys) addSource(t *testing.T) {
	files, err := filepath.Glob("*.go")
	require.NoError(t, err)
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		set := token.NewFileSet()
		file, err := parser.ParseFile(set, name, nil, 0)
		require.NoError(t, err)
		ast.Inspect(file, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.ImportSpec:
				return false
			case *ast.ValueSpec:
				if n.Names[0].Name == "texts" {
					return false
				}
			case *ast.CallExpr:
				switch f := n.Fun.(type) {
				case *ast.SelectorExpr:
					if f.Sel.Name == "Errorf" || f.Sel.Name == "New" || f.Sel.Name == "MustCompile" {
						return false
					}
				case *ast.Ident:
					if f.Name == "panic" {
						return false
					}
					if f.Name == "say" {
						if lit, ok := n.Args[0].(*ast.BasicLit); ok {
							text, _ := strconv.Unquote(lit.Value)
							s[text] = append(s[text], len(n.Args)-1)
						}
					}
				}
			case *ast.BasicLit:
				if n.Kind != token.STRING {
					return true
				}
				text, err := strconv.Unquote(n.Value)
				require.NoError(t, err)
				if _, key := texts[text]; key {
					if s[text] == nil {
						s[text] = []int{}
					}
					return true
				}
				text = element.ReplaceAllString(strings.TrimSuffix(text, `"`)+">", "") // figures.go has the start of an element
				assert.NotRegexp(t, `^[A-Z]\pL+|\pL{2,} \pL`, text, "%s: text that is not in the table", set.Position(n.Pos()))
			}
			return true
		})
	}
}

// All texts of the sheets are in the table, every text of the table is used, and
// has a placeholder for each of its arguments.
func TestAllTextIsInOneTable(t *testing.T) {
	s := usedKeys{}
	for _, page := range []*template.Template{page(), fittingPage(), progressPage()} {
		s.addTemplate(t, page)
	}
	s.addSource(t)
	for key, counts := range s {
		text, ok := texts[key]
		if !assert.True(t, ok, "%q is used and is not in the table", key) {
			continue
		}
		places := 0
		for _, m := range placeholder.FindAllStringSubmatch(text, -1) {
			n, _ := strconv.Atoi(m[1])
			places = max(places, n)
		}
		for _, n := range counts {
			assert.Equal(t, places, n, "arguments of %q", key)
		}
	}
	for key, text := range texts {
		assert.Contains(t, s, key, "it is not used")
		assert.NotRegexp(t, `[<>]`, text, "%q: markup belongs in the templates", key)
	}
	assert.PanicsWithValue(t, "no text for x", func() { say("x") })
	assert.Equal(t, "{2}, b", say("lab column", "{2}", "b"), "a text of users has no placeholders")
}
