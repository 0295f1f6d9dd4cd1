// Package guide contains the long help of aplomb: Markdown pages for the web and, through
// [Page.Text], for a terminal.
package guide

import (
	"bufio"
	"embed"
	"regexp"
	"strings"
)

//go:embed *.md
var files embed.FS

// Page is one page of the guide.
type Page struct {
	Name  string // the argument of "aplomb guide", such as fitting
	Title string // its first heading: what it is about, in one line
}

// Pages returns every page, in the order in which a new user needs them.
func Pages() []Page {
	var pages []Page
	for _, name := range []string{"setup", "fitting", "fixing", "clinic", "study", "dataset", "calibrate", "validate", "files", "numbers", "ports"} {
		pages = append(pages, Page{name, title(name)})
	}
	return pages
}

// title returns the first heading of a page. Every command asks for the titles of all pages,
// so no more is read than that.
func title(name string) string {
	page, err := files.Open(name + ".md")
	if err != nil {
		panic(err) // a page that Pages names and that was not embedded
	}
	defer page.Close()
	line, err := bufio.NewReaderSize(page, 128).ReadString('\n')
	if err != nil {
		panic(err) // a page without a heading
	}
	return strings.TrimSpace(strings.TrimPrefix(line, "# "))
}

var (
	hidden = regexp.MustCompile(`(?m)^(<!--.*-->|<img .*>|!\[.*\]\(.*\))\n+`) // comments and pictures on lines of their own
	link   = regexp.MustCompile(`\[([^\]]+)\]\([^)]+\)`)
)

// Text returns the page as plain text. Headings are in capitals, blocks of code
// are indented by two spaces, links are their text, and pictures are left out.
// Lines outside code are at most 80 characters long.
func (p Page) Text() string {
	var text strings.Builder
	inCode := false
	source, err := files.ReadFile(p.Name + ".md")
	if err != nil {
		panic(err) // no page of Pages
	}
	for line := range strings.Lines(hidden.ReplaceAllString(string(source), "")) {
		switch {
		case strings.HasPrefix(line, "```"):
			inCode = !inCode
		case inCode && line != "\n":
			text.WriteString("  " + line)
		case inCode:
			text.WriteString(line)
		case strings.HasPrefix(line, "#"):
			text.WriteString(strings.ToUpper(strings.TrimLeft(line, "# ")))
		default:
			text.WriteString(link.ReplaceAllString(line, "$1"))
		}
	}
	return text.String()
}
