// The core's worker: one request after the other, synchronously. The queue is the client's.
// The bindings (`wasm_bindgen`) stand before this code in the same classic script.
import type { Answer, Message, Request } from './protocol';
import type { Core, CoreFault } from './types.gen';

declare const wasm_bindgen: Core & ((options: { module_or_path: unknown }) => Promise<unknown>);
declare const self: DedicatedWorkerGlobalScope & { conewrightPanic?: string };

/** Hosted: the wasm lies beside the worker, whose name says which half it is to be (its address would not: a service worker drops what stands behind #). A page in one file sends the bytes first. */
let inside: ArrayBuffer | undefined;
let loading: Promise<unknown> | undefined;

function load(): Promise<unknown> {
  loading ??= wasm_bindgen({ module_or_path: inside ?? fetch(self.name === 'practice' ? 'practice.wasm' : 'core.wasm') });
  return loading;
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
    await load();
  } catch (error) {
    post({ id, fault: { kind: 'load', message: `The measuring core could not be loaded: ${String(error)}` } });
    loading = undefined;
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
