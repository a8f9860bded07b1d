// Loads into Node the very core that the page ships.
import { existsSync, readFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';

const folder = join(dirname(fileURLToPath(import.meta.url)), '../target/headless');

/** The core's functions (see `Core` in the generated types). Throws a plain sentence where it was not built. */
export function loadCore() {
  const [bindings, wasm] = ['core.js', 'core.wasm'].map((name) => join(folder, name));
  if (!existsSync(bindings) || !existsSync(wasm)) {
    throw new Error('the measuring core is not built yet; this builds it: pkg-scripts/build');
  }
  // The bindings are a classic script that declares `wasm_bindgen`.
  const core = new Function(`${readFileSync(bindings, 'utf8')}\nreturn wasm_bindgen;`)();
  core.initSync({ module: readFileSync(wasm) });
  return core;
}
