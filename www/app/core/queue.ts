// One request at a time goes to the worker; the others wait here, outside wasm memory, so that a dead or cancelled
// worker takes nothing with it.
import type { Answer, CoreFunction, Request } from './protocol';
import type { Core, CoreFault } from './types.gen';

/** How far a request has come. */
export type Progress = { stage: 'waiting'; ahead: number } | { stage: 'loading' } | { stage: 'computing' };

export interface CallOptions {
  /** Aborting ends the work at once: a running worker is stopped and replaced. */
  signal?: AbortSignal;
  onProgress?: (progress: Progress) => void;
}

/** Rejection of every failed request; kinds `cancelled` and `panic` are the queue's own, the others the core's. */
export class CoreError extends Error {
  readonly kind: string;
  readonly field: string | undefined;
  constructor(fault: CoreFault) {
    super(fault.message);
    this.name = 'CoreError';
    this.kind = fault.kind;
    this.field = fault.field;
  }
}

/** The part of a Worker that the queue needs; tests put their own in its place. */
export interface WorkerLike {
  postMessage(message: Request): void;
  terminate(): void;
  onmessage: ((event: MessageEvent<Answer>) => void) | null;
  onerror: ((event: ErrorEvent) => void) | null;
}

interface Waiting {
  request: Request;
  options: CallOptions;
  resolve: (value: unknown) => void;
  reject: (error: CoreError) => void;
  forget: () => void;
}

export class CoreQueue {
  /** Called when the core has panicked, after the worker was replaced. */
  onDied: ((message: string) => void) | undefined;
  private worker: WorkerLike | undefined;
  private running: Waiting | undefined;
  private readonly waiting: Waiting[] = [];
  private nextId = 1;

  constructor(private readonly startWorker: () => WorkerLike) {}

  call<N extends CoreFunction>(name: N, args: Parameters<Core[N]>, options: CallOptions = {}): Promise<ReturnType<Core[N]>> {
    return this.enqueue(name, args, options) as Promise<ReturnType<Core[N]>>;
  }

  private enqueue(name: CoreFunction, args: unknown[], options: CallOptions): Promise<unknown> {
    return new Promise((resolve, reject) => {
      if (options.signal?.aborted) return reject(cancelled());
      const entry: Waiting = { request: { id: this.nextId++, name, args }, options, resolve, reject, forget: () => undefined };
      const abort = () => this.cancel(entry);
      options.signal?.addEventListener('abort', abort, { once: true });
      entry.forget = () => options.signal?.removeEventListener('abort', abort);
      this.waiting.push(entry);
      this.pump();
      if (this.running !== entry) options.onProgress?.({ stage: 'waiting', ahead: this.waiting.length });
    });
  }

  private pump(): void {
    if (this.running) return;
    const next = this.waiting.shift();
    if (!next) return;
    this.running = next;
    this.worker ??= this.fresh();
    next.options.onProgress?.({ stage: 'loading' });
    this.worker.postMessage(next.request);
  }

  private fresh(): WorkerLike {
    const worker = this.startWorker();
    worker.onmessage = (event) => this.hear(worker, event.data);
    worker.onerror = (event) => this.died(worker, event.message || 'the worker could not be started');
    return worker;
  }

  private hear(from: WorkerLike, answer: Answer): void {
    const entry = this.running;
    if (from !== this.worker || !entry || answer.id !== entry.request.id) return;
    if ('started' in answer) entry.options.onProgress?.({ stage: 'computing' });
    else if ('died' in answer) this.died(from, answer.died);
    else if ('fault' in answer) this.finish(entry, () => entry.reject(new CoreError(answer.fault)));
    else this.finish(entry, () => entry.resolve(answer.value));
  }

  private finish(entry: Waiting, settle: () => void): void {
    entry.forget();
    this.running = undefined;
    settle();
    this.pump();
  }

  private drop(): void {
    this.worker?.terminate();
    this.worker = undefined;
  }

  private died(worker: WorkerLike, message: string): void {
    if (worker !== this.worker) return;
    this.drop();
    const entry = this.running;
    if (entry) this.finish(entry, () => entry.reject(new CoreError({ kind: 'panic', message })));
    this.onDied?.(message);
  }

  private cancel(entry: Waiting): void {
    if (entry === this.running) {
      this.drop();
      this.finish(entry, () => entry.reject(cancelled()));
      return;
    }
    const place = this.waiting.indexOf(entry);
    if (place >= 0) this.waiting.splice(place, 1);
    entry.forget();
    entry.reject(cancelled());
  }
}

function cancelled(): CoreError {
  return new CoreError({ kind: 'cancelled', message: 'cancelled' });
}
