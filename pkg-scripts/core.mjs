// Loads into Node the very core that the page ships.
import { existsSync, readFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';

const folder = join(dirname(fileURLToPath(import.meta.url)), '../target/headless');

/** The core's functions (see `Core` in the generated types). Throws a plain sentence where it was not built. */
export function loadCore() {
  const [bindings, ...halves] = ['core.js', 'core.wasm', 'practice.wasm'].map((name) => join(folder, name));
  if (![bindings, ...halves].every(existsSync)) {
    throw new Error('the measuring core is not built yet; this builds it: pkg-scripts/build');
  }
  // The bindings are a classic script that declares `wasm_bindgen`.
  const load = new Function(`${readFileSync(bindings, 'utf8')}\nreturn wasm_bindgen;`);
  const [core, practice] = halves.map((wasm) => {
    const half = load();
    half.initSync({ module: readFileSync(wasm) });
    return half;
  });
  // Each half brings the names of all functions, and the code of its own.
  for (const name of Object.keys(practice).filter((name) => name.startsWith('practice_'))) core[name] = practice[name];
  return core;
}
