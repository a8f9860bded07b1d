// Loads into Node the very core that the page ships, with all its parts.
import { existsSync, readFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';

const folder = join(dirname(fileURLToPath(import.meta.url)), '../target/headless');
const place = (file) => join(folder, file);

/** What each function needs beside the core itself, as the builder wrote it; none where nothing was built. */
export function partsOf() {
  return existsSync(place('parts.json')) ? JSON.parse(readFileSync(place('parts.json'), 'utf8')) : undefined;
}

/**
 * The core's functions (see `Core` in the generated types), with all its parts or those that `names` need only.
 * Throws a plain sentence where it was not built.
 */
export function loadCore(names) {
  const parts = partsOf();
  const needed = (names ?? Object.keys(parts ?? {})).flatMap((name) => parts[name]);
  const files = ['core.wasm', ...new Set(needed)].map(place);
  if (!parts || ![place('core.js'), ...files].every(existsSync)) {
    throw new Error('the measuring core is not built yet; this builds it: pkg-scripts/build');
  }
  // The bindings are a classic script that declares `wasm_bindgen`.
  const core = new Function(`${readFileSync(place('core.js'), 'utf8')}\nreturn wasm_bindgen;`)();
  const [whole, ...others] = files.map((file) => readFileSync(file));
  core.initSync({ module: whole });
  for (const part of others) core.joinSync(part);
  return Object.assign(core, { analyse: (setup, takes) => analyse(core, setup, takes) });
}

/** Runs the check that the setup names; what is wrong with the name is for the core to say. */
function analyse(core, setup, takes) {
  core.setup_takes(setup);
  return core[`analyse_${JSON.parse(setup).check}`](setup, takes);
}
