// The core's worker: one request after the other, synchronously. The queue is the client's.
// The bindings (`wasm_bindgen`) stand before this code in the same classic script.
import type { Answer, CoreFunction, Message, Request } from './protocol';
import type { Core, CoreFault } from './types.gen';

declare const wasm_bindgen: Core & {
  (options: { module_or_path: unknown }): Promise<unknown>;
  /** Takes a part in, once the core is there. */
  join: (part: unknown) => Promise<unknown>;
};
/** What each function needs beside the core itself; from the builder. */
declare const CORE_PARTS: Partial<Record<CoreFunction, string[]>>;
declare const self: DedicatedWorkerGlobalScope & { conewrightPanic?: string };

/** Hosted: the files lie beside the worker. A page in one file sends their bytes first. */
let inside: Record<string, ArrayBuffer> = {};
const asked = new Map<string, Promise<unknown>>();

/** The core, and the parts of it that the function needs: fetched together, each when it is needed for the first time. */
function load(name: CoreFunction): Promise<unknown> {
  const core = once('core.wasm', (source) => wasm_bindgen({ module_or_path: source }));
  // A file stands behind those that it calls.
  return (CORE_PARTS[name] ?? []).reduce((before, file) => once(file, (source) => before.then(() => wasm_bindgen.join(source))), core);
}

/** What could not be loaded is asked for again the next time. */
function once(file: string, take: (source: unknown) => Promise<unknown>): Promise<unknown> {
  const known = asked.get(file);
  if (known) return known;
  const taken = take(inside[file] ?? fetch(file));
  asked.set(file, taken);
  taken.catch(() => asked.delete(file));
  return taken;
}

function post(answer: Answer): void {
  self.postMessage(answer, transferables(answer));
}

/** Large arrays of an answer are moved, not copied: the worker has no further use for them. */
function transferables(found: unknown, list: Transferable[] = []): Transferable[] {
  if (ArrayBuffer.isView(found)) list.push(found.buffer as ArrayBuffer);
  else if (found !== null && typeof found === 'object') for (const v of Object.values(found)) transferables(v, list);
  return list;
}

function faultOf(thrown: unknown): CoreFault {
  const { kind, message, field } = (thrown ?? {}) as Partial<CoreFault>;
  if (typeof kind === 'string' && typeof message === 'string') return field ? { kind, message, field } : { kind, message };
  return { kind: 'unexpected', message: thrown instanceof Error ? thrown.message : String(thrown) };
}

async function serve(request: Request): Promise<void> {
  const { id, name, args } = request;
  try {
    await load(name);
  } catch (error) {
    post({ id, fault: { kind: 'load', message: `The measuring core could not be loaded: ${String(error)}` } });
    return;
  }
  post({ id, started: true });
  try {
    // The queue has paired name and arguments by the generated types.
    const call = wasm_bindgen[name] as (...args: unknown[]) => unknown;
    post({ id, value: call(...args) });
  } catch (error) {
    if (error instanceof WebAssembly.RuntimeError || self.conewrightPanic) {
      post({ id, died: self.conewrightPanic ?? String(error) });
    } else {
      post({ id, fault: faultOf(error) });
    }
  }
}

self.onmessage = (event: MessageEvent<Message>) => {
  if ('wasm' in event.data) inside = event.data.wasm;
  else void serve(event.data);
};
