// The page in one file carries worker, core and worklet inside it as blocks of text; from a folder they lie beside it.
// From a file nothing can be fetched, and only these forms work in all engines: a classic worker from a blob, the
// worklet from a `data:` address, the core from bytes.

/** What the names of the blocks begin with; `www/one_file.mjs` writes them. */
const BLOCK = 'inside-';

const inside = (block: string) => document.getElementById(BLOCK + block)?.textContent ?? undefined;

/** Whether this page is the one that has everything inside. */
export const inOneFile = (): boolean => inside('worker') !== undefined;

/** Starts a worker of the core; from one file it is handed the core with all its parts. */
export function startCoreWorker(name: string): Worker {
  const source = inside('worker');
  if (source === undefined) return new Worker('worker.js', { name });
  const address = URL.createObjectURL(new Blob([source], { type: 'text/javascript' }));
  const worker = new Worker(address);
  // The worker reads its address after this call.
  setTimeout(() => URL.revokeObjectURL(address), 60_000);
  const blocks = [...document.querySelectorAll(`script[id^="${BLOCK}"][id$=".wasm"]`)];
  const wasm = Object.fromEntries(blocks.map((block) => [block.id.slice(BLOCK.length), bytesOf(block.textContent)]));
  worker.postMessage({ wasm }, Object.values(wasm));
  return worker;
}

/** Where the worklet is to be loaded from. */
export function workletAddress(): string {
  const source = inside('worklet');
  return source === undefined ? 'worklet.js' : `data:text/javascript,${encodeURIComponent(source)}`;
}

function bytesOf(base64: string): ArrayBuffer {
  const text = atob(base64);
  const bytes = new Uint8Array(text.length);
  for (let i = 0; i < text.length; i++) bytes[i] = text.charCodeAt(i);
  return bytes.buffer;
}
