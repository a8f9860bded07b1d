// First load: everything that the start page and a check by a live input or a recording need, compressed; that is all that
// the service worker keeps but the simulator, which only the practice bench asks for. Its sum stands beside.
import { readFileSync, readdirSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { brotliCompressSync, gzipSync } from 'node:zlib';

const GOAL_BYTES = 350_000;
// The goal is not reached; until it is, the ceiling keeps the first load from growing unseen and may only be lowered.
// A whole check that comes in anew raises it by what it weighs: by meter, 35 kB (28 of core, 7 of page);
// weight and box, polarity and the loose joint together, 43 kB; the knock's search for riding gain, 5 kB; two drivers at once,
// 25 kB; impedance by microphone, 19 kB; a known box by knock, 7 kB.
const CEILING_BYTES = 572_000;
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
const LATER = ['practice.wasm'];
const sumOf = (kind, list) => list.reduce((total, file) => total + file[kind], 0);
const first = sizes.filter(({ name }) => !LATER.includes(name));
const sum = sumOf('sent', first);

for (const { name, sent } of sizes.sort((a, b) => b.sent - a.sent)) {
  console.log(`${String(sent).padStart(8)} ${name}${LATER.includes(name) ? ' (practice bench only)' : ''}`);
}
console.log(`first load ${sum} bytes with gzip, ${sumOf('best', first)} with brotli; goal ${GOAL_BYTES}, ceiling ${CEILING_BYTES}`);
console.log(`with the practice bench ${sumOf('sent', sizes)} with gzip, ${sumOf('best', sizes)} with brotli`);
if (sum > GOAL_BYTES) console.log(`the goal is missed by ${sum - GOAL_BYTES} bytes`);
const good = ['core.wasm', ...LATER].every((name) => files.includes(name)) && sum <= CEILING_BYTES;
console.log(`${good ? 1 : 0} passed, ${good ? 0 : 1} failed`);
process.exitCode = good ? 0 : 1;
