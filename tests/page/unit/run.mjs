// Bundles every `*.test.ts` of this folder and runs it with `node --test`. Arguments choose tests by part of their name.
import { build } from '../../../www/node_modules/esbuild/lib/main.js';
import { spawnSync } from 'node:child_process';
import { readdirSync, rmSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';

const here = dirname(fileURLToPath(import.meta.url));
const root = join(here, '../../..');
const out = join(root, 'target/page-unit');
const wanted = process.argv.slice(2);
const tests = readdirSync(here).filter((f) => f.endsWith('.test.ts') && (wanted.length === 0 || wanted.some((w) => f.includes(w))));
if (tests.length === 0) throw new Error('no such test');

rmSync(out, { recursive: true, force: true });
await build({
  entryPoints: tests.map((f) => join(here, f)),
  bundle: true,
  platform: 'node',
  format: 'esm',
  target: 'node20',
  jsx: 'automatic',
  jsxImportSource: 'preact',
  outdir: out,
  outExtension: { '.js': '.mjs' },
  nodePaths: [join(root, 'www/node_modules')],
  logLevel: 'warning',
});
const files = tests.map((f) => join(out, f.replace(/\.ts$/, '.mjs')));
process.exit(spawnSync(process.execPath, ['--test', '--test-reporter=spec', ...files], { stdio: 'inherit' }).status ?? 1);
