// Judges backs with the page's own scripts: JSON in, JSON out.
import { readFileSync } from "node:fs";
import { pathToFileURL } from "node:url";

const { judgeValues } = await import(pathToFileURL(process.argv[2]).href);
const { table, backs } = JSON.parse(readFileSync(0, "utf8"));
process.stdout.write(JSON.stringify(backs.map((one) => judgeValues(one.geometry, one.values, table))));
