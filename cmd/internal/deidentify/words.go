package deidentify

import (
	"fmt"
	"io"
	"strings"

	"aplomb/cmd/internal/text"
	"aplomb/plots/words"
)

// changed describes the changes to the recorded data, one paragraph each.
var changed = []string{
	"This package is pseudonymized (ISO 25237:2017), which is not anonymous. Codes of dancers, shoes, strips and mountings are new: HMAC-SHA-256 (RFC 2104, FIPS 198-1) of the old code under a secret key, cut to 50 bits. Whoever has the key can compute the new code of an old one; nobody can go back without it. Packages made with one key have the same codes and can be joined.",
	fmt.Sprintf("All times of a dancer are moved back by one constant of 10 to 19 years. Intervals within a dancer are kept; weekday, season and time of day are not, and each dancer has a constant of their own. Because the time of day is moved too, started can fall on the day before day. The day of a strip's calibration is moved as well, so that its age on the dancer's first day with it is right to %d days; one strip therefore has a profile for each dancer.", ageStep),
	fmt.Sprintf("In place of the year of birth there is a band of ages (age_band). Body mass is rounded to %d kg, years on pointe down to whole years. Numbers of recordings, checks of strips and the days of consent are left out, and of studies the days, the seed and the labels. Ids of recordings and checksums are new ones, because arrival times are in what they are computed from.", massStep),
	"The counts of the cells, the clock of the strip and the numbers of frames are as they were recorded, so every measure is what it was.",
}

// wordsLeft and wordsKept describe the treatment of notes and free text.
const (
	wordsLeft = "Notes, reasons and other free words are left out. Names of studies, and words that tell conditions apart (position, floor, padding, fixing), have become codes: what was alike is alike. What a fitter chooses from a list is kept."
	wordsKept = "Notes and free words ARE KEPT, as they were typed: read every one of them before you pass the package on."
)

// mayIdentify lists data that may still identify a dancer.
var mayIdentify = []string{
	"Pressure itself. In walking barefoot it told 104 people apart in 99.6 % of cases (Pataky et al., J. R. Soc. Interface 9, 2012, 790-800). Whoever has another recording of a dancer can compare.",
	"The originals. Counts and clocks are unchanged, so whoever has an original recording, or numbers from it, finds it here.",
	"Days and visits. How many visits there were and how far apart, and how many shoes were tried, can be known to others.",
	"Age, years on pointe, feet, body mass and the watched side, alone or together: see the small groups.",
	"Shoes. Size and shape of a platform, hours worn and the rest of a shoe's description can be those of one pair.",
	"Strips. Gains and zeros of a calibration are those of one physical strip: another data set with the same ones comes from the same place. A calibration that several dancers share ties their days together to about a month.",
	"Pain, comfort and what a fitter saw say something about health.",
	"Creator, licence, program version and the times of the files say who made the package and when.",
	"The key. Whoever has it and a list of codes can undo the codes and the moved days.",
}

// Markdown returns the report as a chapter of a package's README.
func (r Report) Markdown() string {
	var b strings.Builder
	b.WriteString("## De-identification\n\n")
	for _, p := range append(changed, r.wordsText()) {
		b.WriteString(text.Wrap(p) + "\n\n")
	}
	b.WriteString("### Small groups\n\n")
	r.smallGroups(&b, len(r.Single), len(r.All))
	b.WriteString("\n### What may still identify a dancer\n\n")
	list(&b)
	b.WriteString("\n" + text.Wrap("NISTIR 8053 (De-Identification of Personal Information, 2015) explains these terms and risks. Do not try to find out who a dancer is.") + "\n")
	return b.String()
}

// mostCells is the number of small groups of a kind that Print prints.
const mostCells = 8

// Print prints the report for the creator of the package at path.
func (r Report) Print(w io.Writer, path string) {
	fmt.Fprintf(w, "\n%s\n\nSmall groups\n\n", text.Wrap(r.wordsText()))
	r.smallGroups(w, mostCells, mostCells)
	if len(r.Single) > mostCells || len(r.All) > mostCells {
		fmt.Fprintf(w, "\n%s has all of them.\n", path)
	}
	fmt.Fprint(w, "\nWhat may still identify a dancer\n\n")
	list(w)
}

func (r Report) wordsText() string {
	if r.Words {
		return wordsKept
	}
	return wordsLeft
}

// list writes which data may still identify a dancer.
func list(w io.Writer) {
	for _, one := range mayIdentify {
		fmt.Fprint(w, text.Item("- ", one)+"\n")
	}
}

// smallGroups writes the small groups, at most the given numbers of each kind.
func (r Report) smallGroups(w io.Writer, single, all int) {
	unique := 0
	for _, c := range r.All {
		if c.Dancers == 1 {
			unique++
		}
	}
	said := fmt.Sprintf("A group of fewer than %d dancers that are alike in what others may know of them is small. ", smallest)
	if len(r.Single)+len(r.All) == 0 {
		fmt.Fprintln(w, text.Wrap(said+fmt.Sprintf("There is none among %s.", words.Count(r.Dancers, "dancer", "dancers"))))
		return
	}
	said += fmt.Sprintf("By everything that is known together, in a small group: %d of %s; like nobody else: %d.",
		dancersIn(r.All), words.Count(r.Dancers, "dancer", "dancers"), unique)
	fmt.Fprintln(w, text.Wrap(said))
	for _, part := range []struct {
		heading string
		cells   []Cell
		most    int
	}{{"By one thing alone:", r.Single, single}, {"By everything together:", r.All, all}} {
		if len(part.cells) == 0 {
			continue
		}
		fmt.Fprintf(w, "\n%s\n\n", part.heading)
		for _, c := range part.cells[:min(part.most, len(part.cells))] {
			fmt.Fprint(w, text.Item("- ", fmt.Sprintf("%s: %s", words.Count(c.Dancers, "dancer", "dancers"), c.Alike))+"\n")
		}
		if more := len(part.cells) - part.most; more > 0 {
			fmt.Fprintf(w, "- and %s more\n", words.Count(more, "group", "groups"))
		}
	}
}
