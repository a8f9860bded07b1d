// Runs every stage of the tests, goes on after a failure, sums what they count and ends with `N passed, N failed`.
// A stage is left out only where the folder it tests does not exist.
import { spawn } from 'node:child_process';
import { existsSync, mkdirSync, readdirSync, writeFileSync } from 'node:fs';
import { resolve } from 'node:path';

const LIMIT_S = 30 * 60; // one stage, on a busy machine; the whole is meant to stay under 20 minutes on two idle cores
const python = resolve('target/venv/bin/python');
const wasi = `node --no-warnings --no-turbo-fast-api-calls ${resolve('pkg-scripts/run-wasi-test.mjs')}`;

// All unit tests and what is held against outside values. The simulations of minutes are left to the native run: they
// would take the whole past its 20 minutes and show nothing of the target that these do not.
const ON_WASM = '--lib --test golden_math --test golden_driver --test golden_meter --test golden_periods --test wav_corpus';

// Beside the audio loop, which runs in real time and leaves the processor idle, goes what nobody waits for, at the lowest
// priority.
const STAGES = [
  { name: 'format', run: 'cargo fmt --check && cargo fmt --check --manifest-path pkg-scripts/builder/Cargo.toml' },
  { name: 'lint', run: 'cargo clippy --quiet --all-targets -- -D warnings' },
  { name: 'lint-wasm', run: 'cargo clippy --quiet --lib --target wasm32-unknown-unknown -- -D warnings' },
  { name: 'core', run: 'node pkg-scripts/native-tests.mjs' },
  { name: 'build', run: 'pkg-scripts/build' },
  {
    lanes: [
      [{ name: 'loop', run: 'node tests/loop/run.mjs', folder: 'tests/loop' }],
      [
        { name: 'core-as-wasm', run: `nice -n 19 cargo test --quiet --no-fail-fast --target wasm32-wasip1 ${ON_WASM}`, env: { CARGO_TARGET_WASM32_WASIP1_RUNNER: wasi } },
        { name: 'types-page', run: 'nice -n 19 www/node_modules/.bin/tsc -p www/tsconfig.json' },
        { name: 'types-worker', run: 'nice -n 19 www/node_modules/.bin/tsc -p www/tsconfig.worker.json' },
        { name: 'golden', run: () => `nice -n 19 bash -c '${goldenChecks()}'`, folder: 'tests/golden' },
        { name: 'headless', run: () => `nice -n 19 ${nodeTests('tests/headless')}`, folder: 'tests/headless' },
      ],
    ],
  },
  { name: 'size', run: 'node tests/page/size.mjs', folder: 'tests/page' },
  { name: 'page-unit', run: 'node tests/page/unit/run.mjs', folder: 'tests/page/unit' },
  { name: 'page-flow', run: 'node tests/page/flow/run.mjs', folder: 'tests/page/flow' },
];

function goldenChecks() {
  const files = [...matching('tests/golden', /^(make|check)_.*\.py$/), 'tests/wav_corpus/generate.py', 'tests/job_records/generate.py'];
  return files.map((file) => `"${python}" ${file} --check`).join(' && ');
}

function nodeTests(folder) {
  return `node --test --test-concurrency=1 ${matching(folder, /\.test\.mjs$/).join(' ')}`;
}

function matching(folder, pattern) {
  const files = readdirSync(folder).filter((name) => pattern.test(name)).sort().map((name) => `${folder}/${name}`);
  if (files.length === 0) throw new Error(`no tests in ${folder}`);
  return files;
}

/** Sums the closing lines of cargo, Node, pytest and our own scripts; a stage without any counts as one test. */
function counted(output, code) {
  let passed = 0;
  let failed = 0;
  for (const line of output.split('\n')) {
    const found =
      /^test result: .* (\d+) passed; (\d+) failed/.exec(line) ?? /^(?:\w+: )?(\d+) passed, (\d+) failed/.exec(line);
    if (found) {
      passed += Number(found[1]);
      failed += Number(found[2]);
    }
    const node = /^(?:#|ℹ) (pass|fail|cancelled) (\d+)$/.exec(line);
    if (node?.[1] === 'pass') passed += Number(node[2]);
    else if (node) failed += Number(node[2]);
  }
  if (passed + failed === 0) return code === 0 ? { passed: 1, failed: 0 } : { passed: 0, failed: 1 };
  // A crash behind good counts is a failure all the same.
  return { passed, failed: code !== 0 && failed === 0 ? 1 : failed };
}

function shell(command, env) {
  return new Promise((done) => {
    const child = spawn('bash', ['-c', command], { env: { ...process.env, ...env }, detached: true });
    let output = '';
    for (const stream of [child.stdout, child.stderr]) stream.setEncoding('utf8').on('data', (text) => (output += text));
    const timer = setTimeout(() => {
      output += `\nstopped after ${LIMIT_S} s\n`;
      process.kill(-child.pid, 'SIGKILL');
    }, LIMIT_S * 1000);
    child.on('close', (code) => {
      clearTimeout(timer);
      done({ output, code: code ?? 1 });
    });
  });
}

async function runStage(stage) {
  const begin = Date.now();
  let result;
  try {
    result = await shell(typeof stage.run === 'function' ? stage.run() : stage.run, stage.env);
  } catch (error) {
    result = { output: error.message, code: 1 };
  }
  const sum = counted(result.output, result.code);
  writeFileSync(`target/test-logs/${stage.name}.log`, result.output);
  const seconds = ((Date.now() - begin) / 1000).toFixed(0);
  console.log(`${stage.name}: ${sum.passed} passed, ${sum.failed} failed (${seconds} s)`);
  if (sum.failed > 0) console.log(excerpt(result.output), `\n(all of it: target/test-logs/${stage.name}.log)`);
  return sum;
}

/** What failed, each with its whole reason where the test gives one, then the end. */
function excerpt(output) {
  const lines = output.split('\n');
  const telling = [];
  for (let at = 0; at < lines.length && telling.length < 120; at++) {
    if (/^\s*not ok /.test(lines[at])) {
      // The reason stands below, set in: the next line that is not ends it.
      const depth = lines[at].search(/\S/);
      telling.push(lines[at]);
      while (at + 1 < lines.length && (lines[at + 1].trim() === '' || lines[at + 1].search(/\S/) > depth)) telling.push(lines[++at]);
    } else if (/FAILED|failed|panicked|error|assert|Error/.test(lines[at])) telling.push(lines[at]);
  }
  return [...telling, '...', ...lines.slice(-40)].map((line) => `    ${line}`).join('\n');
}

mkdirSync('target/test-logs', { recursive: true });
const words = process.argv.slice(2);
const total = { passed: 0, failed: 0 };

async function lane(stages) {
  for (const stage of stages) {
    if (stage.lanes) await Promise.all(stage.lanes.map(lane));
    else if (words.length === 0 || words.some((word) => stage.name.includes(word))) await take(stage);
  }
}

async function take(stage) {
  if (stage.folder && !existsSync(stage.folder)) return console.log(`${stage.name}: left out, there is no ${stage.folder}`);
  const sum = await runStage(stage);
  total.passed += sum.passed;
  total.failed += sum.failed;
}

await lane(STAGES);
console.log(`${total.passed} passed, ${total.failed} failed`);
process.exitCode = total.failed > 0 || total.passed === 0 ? 1 : 0;
