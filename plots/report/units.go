package report

import "regexp"

var (
	// notProse matches everything that is not text for people: pictures, styles and data.
	notProse = regexp.MustCompile(`(?s)<svg.*?</svg>|<style>.*?</style>|<script.*?</script>`)
	// beforeUnit matches a number and its unit with a space between them.
	beforeUnit = regexp.MustCompile(`(\d) (mm|N|kg|kPa|h)\b|(\d) (%)`)
)

// keepUnits puts a no-break space (U+00A0) between each number and its unit in the texts of a
// page, so that no line ends between them.
func keepUnits(page []byte) []byte {
	var out []byte
	at := 0
	add := func(prose []byte) {
		out = append(out, beforeUnit.ReplaceAll(prose, []byte("$1$3\u00a0$2$4"))...)
	}
	for _, m := range notProse.FindAllIndex(page, -1) {
		add(page[at:m[0]])
		out = append(out, page[m[0]:m[1]]...)
		at = m[1]
	}
	add(page[at:])
	return out
}
