package export

// WriteParquet writes a table as Parquet.
var WriteParquet = writeParquet
