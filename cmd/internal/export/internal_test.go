package export

// WriteParquet and WriteCSV write a table.
var WriteParquet, WriteCSV = writeParquet, writeCSV
