// The core's queue with a stand-in for the worker: order, cancelling, death.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { CoreError, CoreQueue, type Progress, type WorkerLike } from '../../../www/app/core/queue';
import type { Answer, Request } from '../../../www/app/core/protocol';

class StandIn implements WorkerLike {
  onmessage: ((event: MessageEvent<Answer>) => void) | null = null;
  onerror: ((event: ErrorEvent) => void) | null = null;
  asked: Request[] = [];
  ended = false;
  postMessage(message: Request): void {
    this.asked.push(message);
  }
  terminate(): void {
    this.ended = true;
  }
  say(answer: Answer): void {
    this.onmessage?.({ data: answer } as MessageEvent<Answer>);
  }
  get last(): Request {
    const request = this.asked.at(-1);
    assert.ok(request);
    return request;
  }
}

function set() {
  const workers: StandIn[] = [];
  const queue = new CoreQueue(() => {
    const worker = new StandIn();
    workers.push(worker);
    return worker;
  });
  const worker = (n: number) => {
    const found = workers[n];
    assert.ok(found, `worker ${n} was not started`);
    return found;
  };
  return { queue, workers, worker };
}

async function kindOf(promise: Promise<unknown>): Promise<string> {
  return promise.then(
    () => 'answered',
    (error: unknown) => (error instanceof CoreError ? error.kind : String(error)),
  );
}

test('one request at a time, in order', async () => {
  const { queue, worker } = set();
  const first = queue.call('version', []);
  const second = queue.call('version', []);
  assert.equal(worker(0).asked.length, 1);
  worker(0).say({ id: worker(0).last.id, value: 'a' });
  assert.equal(await first, 'a');
  assert.equal(worker(0).asked.length, 2);
  worker(0).say({ id: worker(0).last.id, value: 'b' });
  assert.equal(await second, 'b');
});

test('progress tells waiting, loading and computing', async () => {
  const { queue, worker } = set();
  const seen: Progress[] = [];
  const first = queue.call('version', []);
  const second = queue.call('version', [], { onProgress: (p) => seen.push(p) });
  worker(0).say({ id: worker(0).last.id, value: '' });
  await first;
  worker(0).say({ id: worker(0).last.id, started: true });
  worker(0).say({ id: worker(0).last.id, value: '' });
  await second;
  assert.deepEqual(seen, [{ stage: 'waiting', ahead: 1 }, { stage: 'loading' }, { stage: 'computing' }]);
});

test('a fault of the core keeps its field, and the worker', async () => {
  const { queue, worker, workers } = set();
  const call = queue.call('version', []);
  worker(0).say({ id: worker(0).last.id, fault: { kind: 'setup', message: 'no', field: 'takes[1].role' } });
  await assert.rejects(call, (error: unknown) => error instanceof CoreError && error.field === 'takes[1].role');
  assert.equal(workers.length, 1);
  assert.equal(worker(0).ended, false);
});

test('cancelling the running request replaces the worker and goes on with the next', async () => {
  const { queue, worker } = set();
  const stop = new AbortController();
  const first = queue.call('version', [], { signal: stop.signal });
  const second = queue.call('version', []);
  stop.abort();
  assert.equal(await kindOf(first), 'cancelled');
  assert.equal(worker(0).ended, true);
  worker(1).say({ id: worker(1).last.id, value: 'b' });
  assert.equal(await second, 'b');
});

test('cancelling a waiting request leaves the running one alone', async () => {
  const { queue, worker } = set();
  const stop = new AbortController();
  const first = queue.call('version', []);
  const second = queue.call('version', [], { signal: stop.signal });
  stop.abort();
  assert.equal(await kindOf(second), 'cancelled');
  assert.equal(worker(0).ended, false);
  worker(0).say({ id: worker(0).last.id, value: 'a' });
  assert.equal(await first, 'a');
});

test('a request that was cancelled beforehand never runs', async () => {
  const { queue, workers } = set();
  assert.equal(await kindOf(queue.call('version', [], { signal: AbortSignal.abort() })), 'cancelled');
  assert.equal(workers.length, 0);
});

test('a dead core is reported and replaced; the queue goes on', async () => {
  const { queue, worker } = set();
  const reports: string[] = [];
  queue.onDied = (message) => reports.push(message);
  const first = queue.call('version', []);
  const second = queue.call('version', []);
  worker(0).say({ id: worker(0).last.id, died: 'index out of bounds' });
  assert.equal(await kindOf(first), 'panic');
  assert.deepEqual(reports, ['index out of bounds']);
  assert.equal(worker(0).ended, true);
  worker(1).say({ id: worker(1).last.id, value: 'b' });
  assert.equal(await second, 'b');
});

test('what a replaced worker still says is not heard', async () => {
  const { queue, worker } = set();
  const stop = new AbortController();
  const first = queue.call('version', [], { signal: stop.signal });
  const old = worker(0).last.id;
  stop.abort();
  await kindOf(first);
  const second = queue.call('version', []);
  worker(0).say({ id: old, value: 'late' });
  worker(0).say({ id: worker(1).last.id, value: 'late' });
  worker(1).say({ id: worker(1).last.id, value: 'right' });
  assert.equal(await second, 'right');
});
