// Browser tests of the built page: `node tests/page/flow/run.mjs [PART OF A FILE'S NAME ...]`. Needs Chromium and
// target/site. Prints a line a test, the reason of each failure, and last how many passed and failed.
import { spawn } from 'node:child_process';
import { readdirSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { createInterface } from 'node:readline';
import { fileURLToPath } from 'node:url';

const here = dirname(fileURLToPath(import.meta.url));
const wanted = process.argv.slice(2);
const files = readdirSync(here)
  .filter((f) => f.endsWith('.test.mjs') && (wanted.length === 0 || wanted.some((w) => f.includes(w))))
  .map((f) => join(here, f));
if (files.length === 0) throw new Error('no such test');

// Takes run in real time: more browsers at once than cores would be a test of the machine.
const flags = ['--test', '--test-concurrency=2', '--test-timeout=600000', '--test-reporter=tap'];
const child = spawn(process.execPath, [...flags, ...files], { stdio: ['ignore', 'pipe', 'inherit'] });
const count = { passed: 0, failed: 0 };
let failing = false;
for await (const line of createInterface({ input: child.stdout })) {
  const found = /^(\s*)(not ok|ok) \d+ - (.*)$/.exec(line);
  if (found) {
    failing = found[2] === 'not ok';
    count[failing ? 'failed' : 'passed'] += 1;
    console.log(`${found[2]} ${found[3]}`);
  } else if (/^\s*duration_ms: /.test(line) && !failing) {
    console.log(`    ${(Number(line.split(':')[1]) / 1000).toFixed(1)} s`);
  } else if (failing && !/^\s*(---|\.\.\.|1\.\.\d+)/.test(line) && !/^#/.test(line)) {
    console.log(line);
  }
}
console.log(`${count.passed} passed, ${count.failed} failed`);
process.exit(count.failed === 0 && count.passed > 0 ? 0 : 1);
