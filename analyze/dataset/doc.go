// Package dataset makes tables of results: one row for each relevé and foot, one for each
// measure, one for each visit, and so on. A table is plain data with a description of
// every field, so that the dictionary, the schemas and the values come from one list.
//
// It reads and writes no file.
package dataset
