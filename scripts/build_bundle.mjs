// Builds the pages' scripts: every src/saddlebench/web/<slice>/script/<name>.js becomes static/bundle/<slice>-<name>.js.
import { existsSync, readdirSync, rmSync } from "node:fs";
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
console.log(`${Object.keys(entryPoints).length} script(s) bundled into ${outdir}`);
