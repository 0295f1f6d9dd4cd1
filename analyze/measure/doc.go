// Package measure defines the data of a result: the catalogue of measures, relevés with
// the numbers of their holds, verdicts, warnings and uncertainty budgets.
//
// Everything here is plain data and computes nothing. Package analyze fills it in;
// packages that draw, print, compare, store or export results depend on this package
// alone. The JSON tags are the format that analyze --json writes.
//
// Points are [medial, over] in mm in the shoe's frame, slices over cells are in the order
// of the strip's scan, and times are in seconds since the recording's first frame;
// package device defines the axes.
package measure
