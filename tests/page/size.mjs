// First load: everything that the service worker keeps, compressed. The goal is 350 kB and is not reached: the core
// alone is more. Until it is, the ceiling keeps the first load from growing unseen; it may only be lowered.
import { readFileSync, readdirSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { brotliCompressSync, gzipSync } from 'node:zlib';

const GOAL_BYTES = 350_000;
const CEILING_BYTES = 640_000; // measured 591 kB with gzip when both checks had come in
const site = 'target/site';

// The page in one file is there to be taken along; no visit loads it (tests/page/flow/delivery.test.mjs holds that).
const visited = (name) => name !== 'conewright.html' && statSync(join(site, name)).isFile();
const files = readdirSync(site, { recursive: true }).map(String).filter(visited);
// Fonts and pictures are compressed already: what is sent is the smaller of both.
const sizes = files.map((name) => {
  const bytes = readFileSync(join(site, name));
  const sent = Math.min(bytes.length, gzipSync(bytes, { level: 9 }).length);
  return { name, sent, best: Math.min(sent, brotliCompressSync(bytes).length) };
});
const sumOf = (kind) => sizes.reduce((total, file) => total + file[kind], 0);
const sum = sumOf('sent');

for (const { name, sent } of sizes.sort((a, b) => b.sent - a.sent)) console.log(`${String(sent).padStart(8)} ${name}`);
console.log(`${sum} bytes with gzip, ${sumOf('best')} with brotli; goal ${GOAL_BYTES}, ceiling ${CEILING_BYTES}`);
if (sum > GOAL_BYTES) console.log(`the goal is missed by ${sum - GOAL_BYTES} bytes`);
const good = files.includes('core.wasm') && sum < CEILING_BYTES;
console.log(`${good ? 1 : 0} passed, ${good ? 0 : 1} failed`);
process.exitCode = good ? 0 : 1;
