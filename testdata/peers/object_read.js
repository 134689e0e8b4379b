// Carries out one SQL query with Polars over Parquet files in an object store,
// as the table "archive", and prints each row as a line of JSON. Polars wants
// files of one table to have the same types, so each kind of file is a pattern:
//
//   node object_read.js http://HOST:PORT QUERY s3://BUCKET/PATTERN...
"use strict";

const pl = require("nodejs-polars");

const [endpoint, query, ...patterns] = process.argv.slice(2);
Object.assign(process.env, {
	AWS_ACCESS_KEY_ID: "any", AWS_SECRET_ACCESS_KEY: "any", AWS_REGION: "us-east-1", AWS_ENDPOINT_URL: endpoint, AWS_ALLOW_HTTP: "true",
});
const kinds = patterns.map((p) => pl.scanParquet(p, { hivePartitioning: true }).withColumns(pl.col("value").cast(pl.Float64)));
const rows = new pl.SQLContext({ archive: pl.concat(kinds) }).execute(query, { eager: true });
for (const row of rows.toRecords()) {
	console.log(JSON.stringify(row));
}
