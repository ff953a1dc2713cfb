// Builds the pages' scripts: every src/saddlebench/web/<slice>/script/<name>.js becomes static/bundle/<slice>-<name>.js.
import { existsSync, readFileSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { gzipSync } from "node:zlib";
import { build } from "esbuild";

const web = "src/saddlebench/web";
const outdir = `${web}/base/static/bundle`;
const entryPoints = {};
for (const slice of readdirSync(web).sort()) {
  const folder = `${web}/${slice}/script`;
  if (!existsSync(folder)) continue;
  for (const file of readdirSync(folder).sort()) {
    if (file.endsWith(".js")) entryPoints[`${slice}-${file.slice(0, -3)}`] = `${folder}/${file}`;
  }
}

rmSync(outdir, { recursive: true, force: true });
await build({
  entryPoints,
  outdir,
  bundle: true,
  splitting: true,
  format: "esm",
  target: ["es2020"],
  minify: true,
  legalComments: "linked",
  chunkNames: "part-[hash]",
  logLevel: "warning",
});
// Beside each script its compressed form, which is what browsers get.
for (const file of readdirSync(outdir)) {
  if (file.endsWith(".js")) writeFileSync(`${outdir}/${file}.gz`, gzipSync(readFileSync(`${outdir}/${file}`), { level: 9 }));
}
console.log(`${Object.keys(entryPoints).length} script(s) bundled into ${outdir}`);
