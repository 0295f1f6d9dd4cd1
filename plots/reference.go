package plots

import (
	"aplomb/analyze/agreement"
	"aplomb/plots/words"
)

// Reference returns the pictures of the agreement of a strip with a reference instrument,
// one for each measure with limits of agreement over its holds.
func Reference(r *agreement.Report) (all []Named) {
	title := r.Foot.String() + " foot, strip " + r.Strip
	if r.Simulated {
		title += ", simulated"
	}
	for i := range r.Measures {
		c := &r.Measures[i]
		if c.Holds == nil {
			continue
		}
		a := &Agreement{Theme: DefaultTheme(), Measure: words.DisplayOf(c.Measure), Of: "one hold"}
		panel := AgreementPanel{Title: title, What: "strip less reference"}
		for _, p := range c.Pairs {
			panel.Pairs = append(panel.Pairs, [2]float64{(p.Strip + p.Reference) / 2 * a.Measure.Scale, p.Difference * a.Measure.Scale})
		}
		line := func(at float64, ci [2]float64) AgreementLine {
			return AgreementLine{at * a.Measure.Scale, *scaled(&ci, a.Measure.Scale)}
		}
		panel.Lines = [3]AgreementLine{line(c.Holds.Lower, c.Holds.LowCI), line(c.Holds.Bias, c.Holds.BiasCI), line(c.Holds.Upper, c.Holds.UpCI)}
		a.Panels = []AgreementPanel{panel}
		all = append(all, Named{"reference-" + c.Measure.Symbol(), a})
	}
	return all
}
