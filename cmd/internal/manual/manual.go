// Package manual renders a tree of commands as manual pages.
package manual

import (
	"bytes"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/cobra/doc"

	"aplomb/cmd/internal/software"
)

// Page is one manual page.
type Page struct {
	File string // its name, such as aplomb-dancer-list.1
	Roff []byte
}

// Pages returns the manual pages of a command and of all visible commands below it, one
// page each, in the order of the tree. They contain the version of the program and no
// date, so the bytes depend on the version alone. It modifies the texts of the commands.
func Pages(cmd *cobra.Command) ([]Page, error) {
	below := slices.Clone(cmd.Commands()) // in their order: rendering sorts them
	cmd.DisableAutoGenTag = true
	cmd.Long = markdown(cmd.Long)
	var b bytes.Buffer
	undated := time.Unix(0, 0).UTC()
	header := doc.GenManHeader{Section: "1", Date: &undated, Source: "Aplomb " + software.Version, Manual: "Aplomb"}
	if err := doc.GenMan(cmd, &header, &b); err != nil {
		return nil, err
	}
	name := strings.ReplaceAll(cmd.CommandPath(), " ", "-")
	roff := bytes.Replace(b.Bytes(), []byte(undated.Format(`"Jan 2006"`)), []byte(`""`), 1)
	pages := []Page{{File: name + ".1", Roff: roff}}
	for _, sub := range below {
		if !sub.IsAvailableCommand() || sub.IsAdditionalHelpTopicCommand() {
			continue
		}
		more, err := Pages(sub)
		if err != nil {
			return nil, err
		}
		pages = append(pages, more...)
	}
	return pages, nil
}

// markdown returns the text of a command as Markdown for rendering: indented lines are
// kept, and markup characters are escaped.
func markdown(text string) string {
	var b strings.Builder
	inside := false
	for line := range strings.Lines(text) {
		indented := strings.HasPrefix(line, "  ") || strings.HasPrefix(line, "\t")
		if indented != inside && (indented || strings.TrimSpace(line) != "") {
			b.WriteString("\n```\n")
			inside = indented
		}
		if !inside {
			line = markup.Replace(strings.TrimPrefix(line, "#### ")) // a heading in the texts of cobra
		}
		b.WriteString(line)
	}
	if inside {
		b.WriteString("\n```\n")
	}
	return b.String()
}

// markup escapes what Markdown takes for markup.
var markup = strings.NewReplacer(`\`, `\\`, "*", `\*`, "_", `\_`, "`", "\\`", "[", `\[`, "]", `\]`, "<", `\<`, "#", `\#`)
