// The page in one file carries worker, core and worklet inside it as blocks of text; from a folder they lie beside it.
// From a file nothing can be fetched, and only these forms work in all engines: a classic worker from a blob, the
// worklet from a `data:` address, the core from bytes.

/** Names of the blocks; `www/one_file.mjs` writes them. */
const BLOCKS = { worker: 'inside-worker', core: 'inside-core', practice: 'inside-practice', worklet: 'inside-worklet' } as const;

const inside = (block: keyof typeof BLOCKS) => document.getElementById(BLOCKS[block])?.textContent ?? undefined;

/** Whether this page is the one that has everything inside. */
export const inOneFile = (): boolean => inside('core') !== undefined;

/** Starts the worker of one half of the core; from one file it is handed that half. */
export function startCoreWorker(part: 'core' | 'practice'): Worker {
  const source = inside('worker');
  const core = inside(part);
  if (source === undefined || core === undefined) return new Worker('worker.js', { name: part });
  const address = URL.createObjectURL(new Blob([source], { type: 'text/javascript' }));
  const worker = new Worker(address);
  // The worker reads its address after this call.
  setTimeout(() => URL.revokeObjectURL(address), 60_000);
  const wasm = bytesOf(core);
  worker.postMessage({ wasm }, [wasm]);
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
