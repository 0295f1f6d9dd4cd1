// Package stats holds the statistics behind every interval and p-value: Student
// intervals, effective degrees of freedom, the power of a test, adjustment for
// multiple testing, agreement and repeatability, prediction ellipses and the mass of a
// normal distribution inside a polygon.
//
// The package takes plain numbers and depends on no other package of this
// module. No function panics on too little data: a result that is undefined is
// NaN, and each function says when that is. Means, standard deviations and
// covariances come from gonum.org/v1/gonum/stat.
package stats
