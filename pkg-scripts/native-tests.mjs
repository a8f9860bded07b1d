// Builds all native test programs, then runs them two at a time with one thread each, the longest first. `cargo test` runs
// one program after the other: whenever the last test of a program is a long one, the second core waits.
import { spawn, spawnSync } from 'node:child_process';
import { availableParallelism } from 'node:os';

// What takes minutes begins first; the others follow in any order. A wrong guess costs time, nothing else.
const LONG = ['procedure_practice', 'good_knocks', 'refusals_impedance', 'recovery_mic_impedance', 'recovery_impedance', 'friction_knock', 'conewright', 'coverage_knock', 'good_takes_impedance', 'sim_faults'];

const built = spawnSync('cargo', ['test', '--quiet', '--tests', '--no-run', '--message-format=json'], { encoding: 'utf8', maxBuffer: 1 << 28, stdio: ['ignore', 'pipe', 'inherit'] });
if (built.status !== 0) {
  for (const message of messages(built.stdout)) if (message.message?.rendered) console.log(message.message.rendered);
  process.exit(1);
}
const programs = messages(built.stdout)
  .filter((m) => m.profile?.test && m.executable)
  .map((m) => ({ name: m.target.name, path: m.executable }))
  .sort((a, b) => rank(a.name) - rank(b.name));
if (programs.length === 0) throw new Error('cargo built no test program');

function messages(text) {
  return text.split('\n').filter((line) => line.startsWith('{')).map((line) => JSON.parse(line));
}

function rank(name) {
  const at = LONG.indexOf(name);
  return at < 0 ? LONG.length : at;
}

function run({ name, path }) {
  return new Promise((done) => {
    const begin = Date.now();
    const child = spawn(path, ['--quiet', '--test-threads=1'], { env: { ...process.env, CARGO_MANIFEST_DIR: process.cwd() } });
    let output = '';
    for (const stream of [child.stdout, child.stderr]) stream.setEncoding('utf8').on('data', (text) => (output += text));
    child.on('close', (code) => {
      console.log(`${name}: ${((Date.now() - begin) / 1000).toFixed(1)} s\n${output}`);
      done(code === 0);
    });
  });
}

let good = true;
async function lane() {
  for (let next = programs.shift(); next; next = programs.shift()) good = (await run(next)) && good;
}
await Promise.all(Array.from({ length: Math.max(1, availableParallelism()) }, lane));
const documented = spawnSync('cargo', ['test', '--quiet', '--doc'], { stdio: 'inherit' });
process.exit(good && documented.status === 0 ? 0 : 1);
