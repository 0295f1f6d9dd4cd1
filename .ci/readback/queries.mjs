// Runs SQL in DuckDB: statements and queries in a list of JSON on standard input. Prints the
// rows of the queries as a list of lists of lists, each row in the order of its columns.
import { DuckDBInstance } from '@duckdb/node-api'

let text = ''
for await (const block of process.stdin) text += block
const db = await (await DuckDBInstance.create(':memory:')).connect()
const results = []
for (const sql of JSON.parse(text)) {
  const rows = (await db.runAndReadAll(sql)).getRows()
  if (/^\s*(SELECT|WITH)\b/i.test(sql)) {
    results.push(rows.map(row => row.map(v => typeof v === 'bigint' ? Number(v) : v !== null && typeof v === 'object' ? String(v) : v)))
  }
}
console.log(JSON.stringify(results))
