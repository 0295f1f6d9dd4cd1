// Package dataset makes tables of results: one row a relevé and foot, one row a measure,
// one row a visit, and so on. A table is plain data with a description of every field, so
// that the dictionary, the schemas and the values come from one list.
//
// It reads and writes no file.
package dataset
