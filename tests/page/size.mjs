// First load, everything that the service worker keeps, compressed: under 350 kB.
import { readFileSync, readdirSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { gzipSync } from 'node:zlib';

const LIMIT_BYTES = 350_000; // a design goal, not a measured figure
const site = 'target/site';

const files = readdirSync(site, { recursive: true }).map(String).filter((name) => statSync(join(site, name)).isFile());
// Fonts and pictures are compressed already: what is sent is the smaller of both.
const sizes = files.map((name) => {
  const bytes = readFileSync(join(site, name));
  return { name, sent: Math.min(bytes.length, gzipSync(bytes, { level: 9 }).length) };
});
const sum = sizes.reduce((total, file) => total + file.sent, 0);

for (const { name, sent } of sizes.sort((a, b) => b.sent - a.sent)) console.log(`${String(sent).padStart(8)} ${name}`);
console.log(`${sum} bytes compressed, limit ${LIMIT_BYTES}`);
const good = files.includes('core.wasm') && sum < LIMIT_BYTES;
console.log(`${good ? 1 : 0} passed, ${good ? 0 : 1} failed`);
process.exitCode = good ? 0 : 1;
