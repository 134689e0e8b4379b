// Carries out the SQL statements given, with DuckDB, and prints the rows of the
// last one, each as a line of JSON: node sql.js STATEMENT...
"use strict";

const { DuckDBInstance } = require("@duckdb/node-api");

async function main() {
	const db = await (await DuckDBInstance.create(":memory:")).connect();
	let reader;
	for (const statement of process.argv.slice(2)) {
		reader = await db.runAndReadAll(statement);
	}
	for (const row of reader.getRowObjectsJson()) {
		console.log(JSON.stringify(row));
	}
}

main().catch((err) => {
	console.error(err.message);
	process.exit(1);
});
