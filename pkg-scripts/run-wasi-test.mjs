// Runs one wasm32-wasip1 test program under Node; cargo calls it as the target's runner.
import { readFile } from 'node:fs/promises';
import { WASI } from 'node:wasi';

const [program, ...args] = process.argv.slice(2);
const wasi = new WASI({
  version: 'preview1',
  args: [program, ...args],
  env: { RUST_BACKTRACE: '0' },
  // The tests read stored takes and values by their full path.
  preopens: { '/': '/' },
  returnOnExit: true,
});
const module = await WebAssembly.compile(await readFile(program));
const imports = wasi.getImportObject();
// Called through a JavaScript function: when the engine calls these natives straight from wasm, long runs of Node 20
// crash at their end, after all tests have passed.
for (const [name, call] of Object.entries(imports.wasi_snapshot_preview1)) {
  imports.wasi_snapshot_preview1[name] = (...numbers) => call(...numbers);
}
const instance = await WebAssembly.instantiate(module, imports);
process.exitCode = wasi.start(instance);
