// What a columnar engine takes to compute every frame's centre of pressure from the CSV,
// and nothing else: no contact, no relevés, no uncertainty.
//
// usage: node columnar.mjs DIR    (DIR has frames.csv by make_frames.py)
// Runs with the packages of .ci/readback. Prints JSON: frames loaded, their mean place,
// wall and CPU time of all of it in seconds.
import { createRequire } from 'node:module';
import { pathToFileURL } from 'node:url';

const require = createRequire(new URL('../readback/', import.meta.url));
const { DuckDBInstance } = await import(pathToFileURL(require.resolve('@duckdb/node-api')));

const rows = 5, cols = 8, pitch = 5;
const cells = [...Array(rows * cols).keys()];
const sum = (term) => cells.map(term).join(' + ');
const load = sum((k) => `c${k}`);
const medial = sum((k) => `c${k} * ${((k % cols) - (cols - 1) / 2) * pitch}`);
const over = sum((k) => `c${k} * ${(Math.floor(k / cols) - (rows - 1) / 2) * pitch}`);
const columns = cells.map((k) => `c${k}: 'INTEGER'`).join(', ');
const query = `
  with frame as (
    select ${load} as load, (${medial}) / nullif(${load}, 0) as medial, (${over}) / nullif(${load}, 0) as over
    from read_csv('${process.argv[2]}/frames.csv', header = true, columns = {t_us: 'BIGINT', ${columns}})
  )
  select count(*), avg(medial), avg(over) from frame where load > 400`;

const db = await (await DuckDBInstance.create(':memory:')).connect();
const began = performance.now(), cpu = process.cpuUsage();
const [[frames, medialMM, overMM]] = (await db.runAndReadAll(query)).getRows();
const total = (performance.now() - began) / 1000, used = process.cpuUsage(cpu);
console.log(JSON.stringify({
  loaded: Number(frames), medial_mm: medialMM, over_mm: overMM, total_s: total, cpu_s: (used.user + used.system) / 1e6,
}));
