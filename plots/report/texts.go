package report

import (
	"fmt"
	"strconv"
	"strings"

	"aplomb/device"
)

// say returns the text of a key with its placeholders {1}, {2} and so on replaced
// by args. It panics where there is no such key; a test checks all keys that the
// sheets use.
func say(key string, args ...any) string {
	text, ok := texts[key]
	if !ok {
		panic("no text for " + key)
	}
	var places []string
	for i, a := range args {
		places = append(places, "{"+strconv.Itoa(i+1)+"}", fmt.Sprint(a))
	}
	return strings.NewReplacer(places...).Replace(text)
}

// footName returns the name of a foot.
func footName(f device.Foot) string { return say([2]string{"left", "right"}[f]) }

// ofDancer adds the dancer's code, where there is one, to a title.
func ofDancer(title, dancer string) string {
	if dancer == "" {
		return title
	}
	return say("of dancer", title, shortened(dancer, 40))
}

// texts has all texts of the sheets' own, by key, in English. A translation is
// another such table. Other texts come from elsewhere: verdicts, warnings and units
// from plots/words, titles of measures from the catalogue in analyze/measure, the
// texts in pictures from plots, and findings, wordings and advice from
// analyze/compare, analyze/track and analyze/advise.
var texts = map[string]string{
	// Every sheet.
	"lang":            "en",
	"left":            "left",
	"right":           "right",
	"warning":         "warning",
	"warnings":        "warnings",
	"mounting":        "mounting",
	"mountings":       "mountings",
	"platform":        "platform {1} × {2}",
	"crown":           "crown {1}",
	"shank":           "{1} shank",
	"shank length":    "{1} length",
	"box":             "{1} box",
	"vamp":            "vamp {1}",
	"wings":           "wings {1}",
	"outline points":  "outline of {1} measured points",
	"mm":              "{1} mm",
	"inch":            "{1} in",
	"kg":              "{1} kg",
	"percent":         "{1} %",
	"of dancer":       "{1}, dancer {2}",
	"support":         "support {1}",
	"rise":            "rise {1}",
	"position":        "position {1}",
	"floor":           "floor {1}",
	"feedback":        "feedback to the dancer: {1}",
	"mass":            "mass {1}",
	"pain stop":       "Pain means stop.",
	"spotter":         "Measure at a barre or with a spotter.",
	"licensed":        "Where the law or local rules reserve work with injury or health to licensed people, those rules come first.",
	"never diagnoses": "This is a measurement. It never diagnoses, and it does not replace the eye of a fitter, a teacher or a clinician.",
	"not the ankle":   "Load is not the ankle's angle. Load towards the little-toe side usually goes with sickling, towards the big-toe side with winging; the strip cannot see either.",
	"same strip":      "Contact share compares only between recordings on the same strip model and the same floor. A domed or pleated platform may stay below 100 % with the load at its centre.",
	"seat assumed":    "How well a strip is put back in its place is our assumption until it has been measured for this strip.",
	"written by":      "Written by aplomb {1}, algorithm {2}.",

	// The fitting sheet.
	"fitting title":     "Fitting sheet",
	"fitting stands":    "{1} foot {2}",
	"fitting where":     "Where the load sits",
	"fitting picture":   "Looking down through the foot, front up, big toes facing each other. Stand inside the blue kern and the whole of a flat platform carries.",
	"fitting more":      "{1} in the lab sheet.",
	"fitting more shoe": "more shoe is", "fitting more shoes": "more shoes are",
	"fitting next":        "What to try next",
	"fitting next from":   "Starting from shoe {1}. Common practice, no published source: options to try one at a time, not a diagnosis. Over is front to back, medial side to side, contact share how much of the platform carries.",
	"fitting next foot":   "(For the {1} foot.)",
	"fitting next feet":   "(For both feet.)",
	"fitting watch":       "Watch: {1}",
	"fitting for":         "The shoes tried speak for it.",
	"fitting against":     "The shoes tried speak against it.",
	"fitting together":    "In the shoes tried it changed together with {1}: no single cause.",
	"fitting keep":        "To keep in mind",
	"fitting pain":        "Pain means stop. Have a barre or a spotter.",
	"fitting measurement": "This is a measurement. It never diagnoses, and it does not replace the eye of a fitter, a teacher or a clinician; licensed practice and local rules come first.",
	"fitting ankle":       "It shows where load sits, not what an ankle does.",
	"fitting assumed":     "How well a strip is put back in its place is our assumption until it has been measured.",
	"fitting warnings":    "{1} to these numbers: the lab sheet has them.",
	"fitting warning one": "warning belongs", "fitting warning many": "warnings belong",

	// The progress sheet.
	"progress title":           "Progress sheet",
	"date":                     "2 January 2006", // as package time writes that day
	"progress span":            "{1} to {2}",
	"progress visit":           "visit",
	"progress visits":          "visits",
	"progress answer":          "{1}: {2}",
	"progress said":            "{1} {2}",
	"progress panel":           "{1} foot",
	"progress one visit":       "one visit only",
	"progress at reference":    "last seen at the reference",
	"progress unknown":         "noise not known",
	"progress watched":         "The side being watched is the {1} one.",
	"progress watched mark":    "watched {1}",
	"progress followed":        "{1}, followed in shoe {2}.",
	"progress each":            "{1}, each foot followed in the shoe it wore most often: {2}.",
	"progress other":           "Not on this sheet, since shoes and conditions are followed each on its own: {1}.",
	"progress reads":           "Front to back (over) is where the load acts, mm from the platform's centre, negative towards the back. Where nothing has changed, 95 % of visits lie in the band round the reference: the minimal detectable change, t · √2 · SEM (standard error of measurement).",
	"progress side left":       "left",
	"progress side right":      "right",
	"progress side between":    "left − right",
	"progress side both":       "both feet",
	"progress changes":         "What changed",
	"progress col measure":     "Measure",
	"progress col side":        "Side",
	"progress col reference":   "Reference",
	"progress col last":        "Last",
	"progress col change":      "Change",
	"progress col mdc":         "Band",
	"progress col wording":     "Change is",
	"progress col sem":         "SEM",
	"progress col groups":      "n",
	"progress col dof":         "d.f.",
	"progress col noise":       "SEM is from",
	"progress col slope":       "Slope a relevé (95 %)",
	"progress measure unit":    "{1}, {2}",
	"progress slope":           "{1} ({2} to {3})",
	"progress slope clear":     "{1} ({2} to {3}) clear",
	"progress own baseline":    "own, baseline",
	"progress own remountings": "own, remounted",
	"progress all baseline":    "pooled, baseline",
	"progress all remountings": "pooled, remounted",
	"progress noise none":      "too little known",
	"progress noise explained": "Own: of this dancer; pooled: over the logbook, this dancer having too few. Remounted: put back anew on n days, without what differs between days. Baseline: n dancers' visits marked so. Beyond noise: outside the band, and the change's own 95 % interval, as between shoes, leaves 0 out. The slope is over the relevés of a set at the last visit.",
	"progress table":           "Visit by visit",
	"progress col visit":       "Visit",
	"progress col releves":     "Relevés",
	"progress col pain":        "Pain before, after",
	"progress col weight":      "Body weight on",
	"progress col differs":     "Differs from the reference",
	"progress reference":       "{1}, reference",
	"progress baseline":        "{1}, baseline",
	"progress in":              "{1} {2}",
	"progress mountings":       "{1}; {2}",
	"progress not said":        "{1} not said",
	"progress under":           "Reference: {1}.",
	"progress scale":           "Pain is on a scale from 0, none, to 10.",
	"progress missing":         "none in this shoe",
	"progress pain":            "{1}, {2}",
	"progress weight":          "{1} {2} %",
	"progress earlier":         "{1} more in the pictures.",
	"progress reports":         "It reports where load sat, not what an ankle does, and never diagnoses. It gives no advice on treatment, and none on a return to dance. Pain means stop; licensed practice and local rules come first.",
	"progress like":            "Compare like with like: a change of shoe, strip, floor or support looks like one of the dancer, and shoes change as they wear.",
	"progress weight caution":  "Body weight is mass × 9.80665 m/s²; load has the scale that the strip's calibration gives it.",

	// The lab sheet.
	"lab title":      "Pointe-shoe fitting",
	"lab over title": "Pointe-shoe fitting by measurement",
	"lab reads":      "The numbers are millimetres from the centre of the platform, the flat tip of the shoe: towards the back is negative, towards the front positive. The target is the kern, the region from which the whole of a flat platform carries load.",
	"lab interval":   "Each interval includes what taking the strip off and putting it back would change, for which we assume a value.",
	"lab to read":    "to read with them.",

	"lab where":        "Where the load sits",
	"lab where reads":  "Each platform is seen through the foot from above, front up, so that the big toes face each other. A mark is one relevé: where the load sat on average over the hold. Darker cells carried more pressure.",
	"lab wears":        "Where each shoe was stood on",
	"lab wears reads":  "All relevés of a shoe on its platform, as wear would show it on a sole. Round each mark the sway of a hold that is long enough for it, two standard deviations along each axis.",
	"lab ladder":       "All shoes against the first",
	"lab ladder reads": "Front to back, the best place at the top. Shoes that are not told apart share a place. A difference counts as clear after Holm's adjustment for the number of feet and of pairs of shoes.",
	"lab every":        "Every relevé",
	"lab shoes":        "Shoe against shoe",
	"lab shoes reads":  "A mark is one relevé, from top to bottom in the order they were done. The bar is the mean with its 95 % interval.",
	"lab ring":         "The ring is the difference, drawn from the dashed line that stands for no difference. The interval of a clear difference stays clear of that line.",

	"lab rests":       "What this rests on",
	"lab rests known": "From shoe {1} to shoe {2} on the {3} foot, front to back is known to ±{4} mm (95 %). Of that variance:",
	"lab rests parts": "The dancer is the scatter of the relevés. The mounting is what fixing the strips anew would change. The sensor is the cells' gains, their zeros, and what is lost between them. What would narrow it is worked out with all else as it is.",

	"lab feet":       "Left against right",
	"lab feet reads": "A line joins the two feet of one relevé. The numbers of the feet are mirrored, so they compare directly.",
	"lab feet none":  "Left and right are not compared: no relevé was measured on both feet.",
	"lab traces":     "The recordings",
	"lab files":      "Recordings",
	"lab trace":      "trace of a recording",
	"lab pulse":      "There is load under the platform only while the dancer is on pointe, so each relevé is a pulse of load.",

	"lab numbers":          "The numbers",
	"lab means":            "Shoes and feet",
	"lab means reads":      "Means over the relevés; ± is half the width of the 95 % interval.",
	"lab column":           "{1}, {2}",
	"lab verdict":          "Verdict",
	"lab probability":      "Probability of being over the box",
	"lab counts":           "Relevés, mountings",
	"lab in":               "{1} in {2}",
	"lab above":            "above 99 %",
	"lab below":            "below 1 %",
	"lab differences":      "Differences between shoes",
	"lab differences read": "Measures with a wording were declared before looking, front to back as the first of them. “Clear”: p (Holm) is at most 0.05. “Smaller than mounting repeatability”: the interval would leave out 0 if every mounting were alike.",
	"lab p":                "p is that of the t-test with the interval's uncertainty. p (Holm) is adjusted over feet and pairs of shoes, and for all but front to back over measures as well.",
	"lab no p":             "There is no p without an interval.",
	"lab feet read":        "Left − right over the relevés that both feet rose together. The interval includes the mountings of both strips.",
	"lab from to":          "From shoe {1} to shoe {2}, {3} foot",
	"lab shoe":             "Shoe {1}",
	"lab releves reads":    "± is half the width of the 95 % interval of the one hold, the seat of the strip included.",
	"lab aborted":          "aborted, not measured",
	"lab discarded":        "{1}, discarded",
	"lab worn":             "shoe {1}",
	"lab worn both":        "shoe {1} on the left foot, {2} on the right",
	"col measure":          "Measure",
	"col from":             "From",
	"col to":               "To",
	"col difference":       "Difference",
	"col interval":         "95 % interval",
	"col p":                "p",
	"col p holm":           "p (Holm)",
	"col wording":          "Wording",
	"col left":             "Left",
	"col right":            "Right",
	"col left right":       "Left − right",
	"col releves":          "Relevés",
	"col no":               "No.",
	"col foot":             "Foot",
	"col start":            "Start, s",
	"col hold":             "Hold, s",
	"col over":             "Over, mm",
	"col medial":           "Medial, mm",
	"col contact":          "Contact, %",
	"col load":             "Load, N",
	"col peak":             "Peak, kPa",
	"col sway":             "Sway, mm/s",

	"lab how":           "How it was measured",
	"lab warnings":      "Warnings",
	"lab what shoes":    "Shoes",
	"lab exponent":      "outline exponent {1}",
	"lab padding":       "padding {1}",
	"lab hours":         "worn {1} h",
	"lab strips":        "Strips and calibration",
	"lab strip":         "{1}, {2} foot",
	"lab cells":         "{1} × {2} cells, {3} × {4} mm apart, {5} bit.",
	"lab mount":         "Fixed {1} mm medially and {2} mm to the front of the platform's centre, turned by {3}°.",
	"lab seat assumed":  "Mounting repeatability: {1} mm (standard deviation along each axis), our assumption, given {2} degrees of freedom: fix this strip several times and measure it.",
	"lab seat measured": "Mounting repeatability: {1} mm (standard deviation along each axis), measured over {2} mountings, {3} degrees of freedom.",
	"lab begun":         "begun {1}",
	"lab software":      "written by {1}",
	"lab seats":         "Where the strips lay",
	"lab seat":          "{1}, {2}: strip {3} {4}.",
	"lab side":          "{1}: shoe {2}, strip {3}",
	"lab covered":       "(under {1} of the platform)",
	"lab mounted":       "mounting {1}",
	"lab mark":          "mark {1}",
	"lab fixed":         "fixing: {1}",
	"lab log":           "{1} in {2} s, {3} a second, lost: {4}",
	"lab format":        "format {1}",
	"lab clock":         "clock of the {1}",
	"lab lost unknown":  "not known",
	"frame":             "frame",
	"frames":            "frames",
	"lab id":            "id",
	"lab hash":          "SHA-256",
	"lab settings":      "Settings",
	"lab floor":         "Load below {1} N has no centre of pressure.",
	"lab pulses":        "A relevé begins when load rises through {1} % of its own median and ends when it falls through {2} %; its hold is the longest stretch within ±{3} % of that median, at least {4} s; dips shorter than {5} s do not split it; a rise that never settles is aborted and not measured.",
	"lab sway":          "Sway is low-passed at {1} Hz, resampled to {2} Hz and taken over {3} s from when load and path have settled; shorter holds have none.",
	"lab inside":        "A verdict is given where the probability of the centre of pressure being inside the kern is at least {1} % or at most {2} %; between them it is too close to call.",
	"lab warned":        "More than {1} % of the load off the outline, or a load in the kern with less than {2} % of the platform in contact, is a warning.",

	"cal of":         "Calibration of {1}: {2}.",
	"cal":            "Calibration: {1}.",
	"cal range":      "{1}, calibrated from {2} to {3} kPa",
	"cal gains":      "gains of the cells spread by {1}",
	"cal gains own":  "each cell by its own gain, of which {1} of spread remains",
	"cal gains ours": "gains of the cells taken to spread by {1}, our assumption",
	"cal hysteresis": "hysteresis up to {1}",
	"cal creep":      "creep of {1} for every tenfold of time",
	"cal power":      "kPa = {1} · counts^{2}",
	"cal points":     "a monotone cubic through {1} points",
	"cal linear":     "{1} kPa a count",

	"cautions":     "Cautions",
	"short hold":   "A hold on pointe is far shorter than the 25 s at least that stabilometry asks of quiet standing (Scoppa et al., Gait & Posture 37 (2013) 290-292), so sway figures compare only with each other.",
	"kern caution": "The kern is exact for a flat, rigid platform on an even bed. Real platforms are domed and pleated.",
}
