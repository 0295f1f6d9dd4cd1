package fitting

import "aplomb/cmd/internal/ask"

// Observed returns the words that a fitter chooses from: for where a shoe pinches, and for
// where a dancer has pain.
func Observed() (places, sites []string) { return allLabels(pinches), allLabels(painSites) }

func allLabels(options []ask.Option) (all []string) {
	for _, o := range options {
		all = append(all, o.Label)
	}
	return all
}
