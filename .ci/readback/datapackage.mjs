// Validates a data package with the reference implementation of Frictionless Data Package,
// and reads its tables with that and, in both formats, with DuckDB. Prints the errors, and
// by reader and table the number of rows and the sum of every column of numbers, added up
// row by row. Further arguments are queries, of which the number of rows is printed; in
// them every table goes by its name.
import path from 'node:path'
import datapackage from 'datapackage'
import { DuckDBInstance } from '@duckdb/node-api'

const dir = path.resolve(process.argv[2])
const found = await datapackage.Package.load(path.join(dir, 'datapackage.json'), { basePath: dir })
const errors = found.errors.map(e => e.message)
const tables = found.resources.filter(r => r.tabular)
const result = { errors, frictionless: {}, csv: {}, parquet: {}, queries: [] }

function sums(fields, rows) {
  const of = { 'count of rows': rows.length }
  for (const f of fields.filter(f => f.type === 'number' || f.type === 'integer')) {
    for (const row of rows) {
      if (row[f.name] !== null && row[f.name] !== undefined) of[f.name] = (of[f.name] ?? 0) + Number(row[f.name])
    }
  }
  return of
}

const db = await (await DuckDBInstance.create(':memory:')).connect()
for (const r of tables) {
  const { name, path: file, schema: { fields } } = r.descriptor
  try {
    const rows = await r.read({ keyed: true })
    result.frictionless[name] = sums(fields, rows)
    await r.checkRelations()
  } catch (e) {
    errors.push(`${name}: ${[e, ...(e.errors ?? [])].map(e => e.message).join('; ')}`)
  }
  const at = path.join(dir, file)
  for (const [format, query] of [['csv', `read_csv('${at}', sample_size = -1)`], ['parquet', `read_parquet('${at.replace(/csv$/, 'parquet')}')`]]) {
    try {
      const read = await db.runAndReadAll(`SELECT * FROM ${query}`)
      result[format][name] = sums(fields, read.getRowObjects())
    } catch (e) {
      errors.push(`${name}, ${format}: ${e.message}`)
    }
  }
}
for (const r of tables) {
  await db.run(`CREATE VIEW "${r.name}" AS SELECT * FROM read_csv('${path.join(dir, r.descriptor.path)}', sample_size = -1)`)
}
if (tables.some(r => r.descriptor.path.startsWith('cop/'))) {
  await db.run(`CREATE VIEW cop AS SELECT * FROM read_csv('${path.join(dir, 'cop/*/*/*.csv')}', sample_size = -1, hive_partitioning = true, hive_types_autocast = false)`)
}
for (const query of process.argv.slice(3)) {
  try {
    result.queries.push((await db.runAndReadAll(query)).getRowObjects().length)
  } catch (e) {
    errors.push(`${query}: ${e.message}`)
  }
}
console.log(JSON.stringify(result))
