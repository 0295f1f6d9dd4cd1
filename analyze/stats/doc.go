// Package stats holds the statistics behind every interval and p-value: Student
// intervals, effective degrees of freedom, the power of a test, exact permutation
// tests, agreement and repeatability, prediction ellipses and the mass of a
// normal distribution inside a polygon.
//
// It knows nothing of feet. Nothing here panics on too little data: what is
// undefined is NaN, and each function says when that is. Means, standard
// deviations and covariances are those of gonum.org/v1/gonum/stat.
package stats
