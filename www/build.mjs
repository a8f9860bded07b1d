// Bundles the page into a folder: page, styles, worker (bindings first), worklet, fonts, icons, and the service worker,
// which carries the list of all other files and their version. Last the same page in ONE file, a copy of which lies in
// the folder to be taken along: it is on no list, so that no visit loads it unasked.
// Usage: node build.mjs CORE_FOLDER SITE_FOLDER ONE_FILE
import { build } from 'esbuild';
import { createHash } from 'node:crypto';
import { cp, mkdir, readFile, readdir, rm, writeFile } from 'node:fs/promises';
import { existsSync } from 'node:fs';
import { basename, dirname, join, relative } from 'node:path';
import { fileURLToPath } from 'node:url';
import { oneFile } from './one_file.mjs';

const www = dirname(fileURLToPath(import.meta.url));
const [coreFolder, site, single] = process.argv.slice(2);
if (!coreFolder || !site || !single) throw new Error('usage: node build.mjs CORE_FOLDER SITE_FOLDER ONE_FILE');

const common = {
  bundle: true,
  minify: true,
  format: 'iife',
  target: ['es2021'],
  legalComments: 'none',
  logLevel: 'warning',
  define: { 'process.env.NODE_ENV': '"production"' },
};

await rm(site, { recursive: true, force: true });
await mkdir(join(site, 'fonts'), { recursive: true });
// What each function of the core needs beside `core.wasm`; the worker fetches it when the function is called.
const parts = JSON.parse(await readFile(join(coreFolder, 'parts.json'), 'utf8'));
const version = JSON.parse(await readFile(join(www, 'package.json'), 'utf8')).version;

const page = {
  ...common,
  entryPoints: { page: join(www, 'app/main.tsx') },
  jsx: 'automatic',
  jsxImportSource: 'preact',
  define: { ...common.define, PAGE_VERSION: JSON.stringify(version) },
};
// Screens that are imported when they are opened become files of their own.
await build({ ...page, outdir: site, format: 'esm', splitting: true, chunkNames: 'page-[name]-[hash]' });
for (const sheet of ['page.css', 'desk.css']) await build({ ...common, entryPoints: [join(www, 'styles', sheet)], outfile: join(site, sheet), external: ['fonts/*'] });
await buildWorker();

// The worklet is plain JavaScript of a few lines and has a scope of its own: it is copied as it is.
const worklet = join(www, 'app/audio/worklet.js');
if (existsSync(worklet)) await cp(worklet, join(site, 'worklet.js'));

for (const name of ['besley-600.woff2', 'besley-600-italic.woff2', 'LICENSE.txt']) {
  await cp(join(www, 'fonts', name), join(site, 'fonts', name));
}
for (const name of ['core.wasm', ...new Set(Object.values(parts).flat())]) await cp(join(coreFolder, name), join(site, name));
for (const name of ['index.html', 'manifest.webmanifest', 'icons']) await cp(join(www, name), join(site, name), { recursive: true });

await buildServiceWorker();
await mkdir(dirname(single), { recursive: true });
// From a file no further script can be fetched: there the page is one.
const whole = await build({ ...page, outdir: site, write: false });
await writeFile(single, await oneFile(site, whole.outputFiles[0].text));
await cp(single, join(site, basename(single)));

/** One classic script: the bindings, then our code. It works from a server and as a blob alike. */
async function buildWorker() {
  const outfile = join(site, 'worker.js');
  await build({ ...common, entryPoints: [join(www, 'app/core/worker.ts')], outfile, define: { ...common.define, CORE_PARTS: JSON.stringify(parts) } });
  const bindings = await build({
    ...common,
    format: undefined,
    bundle: false,
    entryPoints: [join(coreFolder, 'core.js')],
    write: false,
  });
  await writeFile(outfile, bindings.outputFiles[0].text + '\n' + (await readFile(outfile, 'utf8')));
}

async function buildServiceWorker() {
  const files = (await list(site)).sort();
  const hash = createHash('sha256');
  for (const file of files) hash.update(file).update(await readFile(join(site, file)));
  const siteVersion = `${version}-${hash.digest('hex').slice(0, 12)}`;
  await build({
    ...common,
    entryPoints: [join(www, 'app/service-worker.ts')],
    outfile: join(site, 'service-worker.js'),
    define: { SITE_VERSION: JSON.stringify(siteVersion), SITE_FILES: JSON.stringify(['./', ...files]) },
  });
}

async function list(folder) {
  const entries = await readdir(folder, { recursive: true, withFileTypes: true });
  return entries.filter((e) => e.isFile()).map((e) => relative(site, join(e.parentPath ?? e.path, e.name)));
}
