// Wasm side of the speed comparison: the page's own core in Node, and in a throttled Chromium.
// `node speed.mjs FOLDER ROUNDS` times `take.wav` with `setup.json` of FOLDER; prints one line a place.
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { loadCore, partsOf } from '../../pkg-scripts/core.mjs';
import { launch } from '../page/browser.mjs';

const [folder, rounds] = [process.argv[2], Number(process.argv[3])];
const root = join(import.meta.dirname, '../..');
const setup = readFileSync(join(folder, 'setup.json'), 'utf8');
const wav = readFileSync(join(folder, 'take.wav'));
const headless = (file) => readFileSync(join(root, 'target/headless', file));

const median = (list) => [...list].sort((a, b) => a - b)[list.length >> 1];

function inNode() {
  const core = loadCore();
  const take = core.read_wav(new Uint8Array(wav)).take;
  const seconds = [];
  let reading;
  for (let i = 0; i < rounds; i++) {
    const start = performance.now();
    reading = core.analyse(setup, [take]);
    seconds.push((performance.now() - start) / 1000);
  }
  console.log(`${median(seconds).toFixed(4)} s  f_s ${reading.values.f_s_hz.value.toFixed(3)} Hz  wasm in Node`);
}

/** The core on the main thread of an empty page, because the throttle reaches no worker. */
async function inSlowChromium() {
  const browser = await launch();
  const page = await browser.newPage();
  const devtools = await page.context().newCDPSession(page);
  await devtools.send('Emulation.setCPUThrottlingRate', { rate: 4 });
  const base64 = (bytes) => Buffer.from(bytes).toString('base64');
  const seconds = await page.evaluate(async ({ bindings, wasm, parts, wav, setup, rounds }) => {
    const bytes = (text) => Uint8Array.from(atob(text), (c) => c.charCodeAt(0));
    // The bindings are a classic script that declares `wasm_bindgen`.
    const core = new Function(`${bindings}\nreturn wasm_bindgen;`)();
    await core({ module_or_path: bytes(wasm) });
    for (const part of parts) await core.join(bytes(part));
    const take = core.read_wav(bytes(wav)).take;
    const list = [];
    for (let i = 0; i < rounds; i++) {
      const start = performance.now();
      core.analyse_impedance(setup, [take]);
      list.push((performance.now() - start) / 1000);
    }
    return list;
  }, {
    bindings: headless('core.js').toString('utf8'),
    wasm: base64(headless('core.wasm')),
    parts: partsOf().analyse_impedance.map((file) => base64(headless(file))),
    wav: base64(wav),
    setup,
    rounds: Math.min(rounds, 5),
  });
  await browser.close();
  console.log(`${median(seconds).toFixed(4)} s  wasm in Chromium, 4 x CPU slowdown (first ${seconds[0].toFixed(3)} s)`);
}

inNode();
await inSlowChromium();
