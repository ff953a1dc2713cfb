// Judges backs with the page's own scripts: JSON in, JSON out; in German where its words are given.
import { readFileSync } from "node:fs";
import { pathToFileURL } from "node:url";

const { judgeValues } = await import(pathToFileURL(process.argv[2]).href);
const { speak } = await import(pathToFileURL(process.argv[3]).href);
const { table, backs, words } = JSON.parse(readFileSync(0, "utf8"));
if (words) speak(words, "de");
process.stdout.write(JSON.stringify(backs.map((one) => judgeValues(one.geometry, one.values, table))));
