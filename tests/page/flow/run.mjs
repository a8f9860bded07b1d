// Browser tests of the built page: `node tests/page/flow/run.mjs [PART OF A NAME ...]`. Needs Chromium, and target/site.
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { runAll } from './lib/runner.mjs';
import { soundTests } from './sound.mjs';

const root = join(dirname(fileURLToPath(import.meta.url)), '../../..');
soundTests(root);
process.exit((await runAll(process.argv.slice(2))) === 0 ? 0 : 1);
