// Reads an archive of sealed days with DuckDB and prints one JSON object per
// line: for each series its numbers of rows and of values, extremes and sum.
// The files are united by column name, as one would query them by hand:
//
//   node archive_read.js DIR/archive
"use strict";
const { DuckDBInstance } = require("@duckdb/node-api");

const query = (dir) => `
  SELECT class, gauge, signal, unit,
         count(*)::INT AS rows, count(value)::INT AS vals,
         min(value)::DOUBLE AS low, max(value)::DOUBLE AS high, sum(value::DOUBLE) AS total,
         epoch_us(min(time))::VARCHAR AS first, epoch_us(max(time))::VARCHAR AS last,
         sum(config)::INT AS config, count(source_time)::INT AS sourced,
         (sum(quality)::INT) AS quality, sum(reason)::INT AS reason
  FROM read_parquet('${dir.replace(/'/g, "''")}/**/*.parquet', union_by_name = true, hive_partitioning = true)
  GROUP BY ALL ORDER BY ALL`;

async function main() {
  const connection = await (await DuckDBInstance.create(":memory:")).connect();
  const reader = await connection.runAndReadAll(query(process.argv[2]));
  for (const row of reader.getRowObjectsJson()) console.log(JSON.stringify(row));
}

main().catch((err) => {
  console.error(String(err));
  process.exit(1);
});
