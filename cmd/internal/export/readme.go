package export

import (
	"fmt"
	"strconv"
	"strings"

	"aplomb/analyze/dataset"
	"aplomb/analyze/measure"
	"aplomb/plots/words"
)

// readme returns README.md: what is in the package, and the methods.
func readme(o Options, c *Collection) string {
	var b strings.Builder
	p := c.provenance()
	recordings, releves, dancers := 0, 0, map[string]bool{}
	for _, u := range c.Source.Units {
		dancers[u.Dancer] = true // an unnamed dancer counts as one
		for _, r := range u.Recordings {
			recordings++
			if r.Result != nil {
				releves += len(r.Result.Releves)
			}
		}
	}
	licence := "No licence is stated: ask the people who made it before you use it."
	if o.Licence != "" {
		licence = "Licence: " + o.Licence + " (SPDX identifier)."
	}
	fmt.Fprintf(&b, `# Measurements of pointe shoes

%s in %s of %s, with %s, each foot counted.
%s

- datapackage.json: the schema of every table (Frictionless Data Package 1)
- tables/: the tables, as below; those with a file a recording have folders of
  their own, whose names say dancer and recording
- recordings/: the recordings (MCAP), and the files that correct what they say of
  themselves
- profiles/: shoes and strips as the recordings have them (TOML)
- scripts/: the model of the methods below, in R (lme4) and in Python (statsmodels)
- fields.json: what every field of the tables means
- inputs.json: what numbers depend on beside the recordings
- provenance.json: program, algorithm, settings and inputs of the numbers
- SHA256SUMS: checksums of all files; sha256sum -c SHA256SUMS checks them

aplomb reproduce computes every number again from the recordings, and lists what
differs.

## Tables

`, words.Count(recordings, "recording", "recordings"), words.Count(len(c.Source.Units), "visit", "visits"), words.Count(len(dancers), "dancer", "dancers"), words.Count(releves, "relevé", "relevés"), licence)
	for _, s := range dataset.Schemas() {
		if o.Wants(s) {
			fmt.Fprintf(&b, "- %s: %s\n", s.Name, s.Definition)
		}
	}
	if c.About != "" {
		b.WriteString("\n" + strings.TrimSpace(c.About) + "\n")
	}
	b.WriteString("\n" + strings.TrimSpace(methods(p)) + "\n")
	if len(c.Source.Studies) > 0 && o.Wants(dataset.Schema{Name: "studies"}) {
		b.WriteString(aboutStudies)
	}
	return b.String()
}

// aboutStudies is a paragraph of the methods of a package with visits of studies.
const aboutStudies = `
What was declared of a study before its first recording is in the tables studies
and study_orders, and what happened to it since in study_changes. A study has a
primary measure of its own, which is compared over dancers.
`

// methods returns text that can go into the methods of a paper.
func methods(p *measure.Provenance) string {
	var software, numbers string
	if p != nil {
		software = fmt.Sprintf("Aplomb %s", p.Version)
		if p.Commit != "" {
			software += fmt.Sprintf(" (commit %.12s)", p.Commit)
		}
		software += ", algorithm " + p.Algorithm
		number := func(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }
		s := p.Settings
		numbers = fmt.Sprintf(`A relevé begins and ends where the load crosses %s and %s of that of its hold; the
hold is the part in which the load stays within %s of its median, for at least
%s s. Sway is that within a window of %s s of the hold. A relevé is called over the
box where the probability that the load acts inside the kern is at least %s, and
not over it where it is at most %s.
`, number(s.OnsetShare), number(s.EndShare), number(s.HoldWithin), number(s.HoldAtLeastS), number(s.SwayWindowS), number(s.InsideFrom), number(s.OutsideUpTo))
	} else {
		software = "no recording of this package was measured"
	}
	return `## Methods

Pressure under the platform of each shoe was measured by a strip of pressure
cells. Software: ` + software + `.
The program is
` + words.Validated + `.
The numbers say where load sits. They are no diagnosis.

` + numbers + `
Coordinates are those of the shoe, in mm from the centroid of its platform: over
is positive towards the front edge, medial towards the big toe on either foot.
The seat of each strip (its place and rotation against the platform) was found
from the pad presses and holds of each recording, with the bearing outline of a
shoe estimated from all recordings of the visit; the table seats says from what.
The origin and the kern refer to the
bearing outline where the seat was found, and to the ruler's where it is assumed.

Standard uncertainties follow JCGM 100:2008. In the table releves they are those
of one relevé and are split by what has the error in common. Relevés of one
mounting are no independent evidence about a shoe: a model needs a term for the
mounting, as in

    over_mm ~ shoe * foot + (1 | dancer/visit/mounting)

The table comparisons holds the differences within each visit. The mounting
effect in them is estimated from the repeated mountings of this package. Over is
the primary measure, with p-values adjusted by Holm's procedure over feet and
pairs of shoes; medial, contact_share, load_n and load_share are declared too,
and adjusted together; all other measures are exploratory.

load_share is the load of the left foot divided by that of both. It is one number
of a rise and stands in the rows of both feet: use one of them.

Recordings that somebody decided to repeat or discard are in the package and are
not measured. With live feedback to the dancer (feedback is live) a recording is
practice: its relevés are in the tables and enter no comparison.
`
}

// citation returns CITATION.cff (Citation File Format 1.2.0). The creator is an entity
// unless family and given names have a comma between.
func citation(o Options) string {
	family, given, person := strings.Cut(o.Creator, ",")
	author := "  - name: " + strconv.Quote(o.Creator) + "\n"
	if person {
		author = "  - family-names: " + strconv.Quote(strings.TrimSpace(family)) + "\n    given-names: " + strconv.Quote(strings.TrimSpace(given)) + "\n"
	}
	text := "cff-version: 1.2.0\nmessage: If you use this data set, please cite it.\ntype: dataset\ntitle: Measurements of pointe shoes\nauthors:\n" + author
	if o.Licence != "" {
		text += "license: " + o.Licence + "\n"
	}
	return text
}
