// A runner of a few lines: tests run one after the other, each prints `ok` or `not ok`; the last line counts them.
// Arguments choose tests by part of their name.

const tests = [];

/** Registers a test; `run` throws where it fails. */
export function test(name, run) {
  tests.push({ name, run });
}

/** Runs them; answers the number that failed. */
export async function runAll(wanted = []) {
  const chosen = tests.filter(({ name }) => wanted.length === 0 || wanted.some((w) => name.includes(w)));
  let failed = 0;
  for (const { name, run } of chosen) {
    const begin = Date.now();
    try {
      await withLimit(run(), 60_000);
      console.log(`ok ${name} (${Date.now() - begin} ms)`);
    } catch (error) {
      failed += 1;
      console.log(`not ok ${name} (${Date.now() - begin} ms)`);
      console.log(String(error?.stack ?? error).replace(/^/gm, '    '));
    }
  }
  console.log(`${chosen.length - failed} passed, ${failed} failed`);
  return failed;
}

function withLimit(work, milliseconds) {
  let timer;
  const limit = new Promise((_, reject) => {
    timer = setTimeout(() => reject(new Error(`not done within ${milliseconds} ms`)), milliseconds);
  });
  return Promise.race([work, limit]).finally(() => clearTimeout(timer));
}
