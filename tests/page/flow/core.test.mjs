// The worker of the built page: typed arrays, faults with their field, a panic that is reported.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { openPage } from '../browser.mjs';

/** Asks a fresh worker for several things in turn and gives back everything it said. */
async function converse(page, requests) {
  return page.evaluate(async (asked) => {
    const worker = new Worker('worker.js');
    const heard = [];
    for (const [i, [name, ...args]] of asked.entries()) {
      worker.postMessage({ id: i, name, args });
      await new Promise((done) => {
        worker.onmessage = ({ data }) => {
          if ('started' in data) return;
          if (ArrayBuffer.isView(data.value)) data.value = { type: data.value.constructor.name, length: data.value.length };
          heard.push(data);
          done();
        };
      });
    }
    worker.terminate();
    return heard;
  }, requests);
}

test('the worker answers, names the field at fault, and reports its own death', async () => {
  const { page, close } = await openPage();
  const tone = { shape: 'tone', rate_hz: 48000, period_s: 1, periods: 2, low_hz: 1000, high_hz: 1000, peak_dbfs: -20, seed: 1 };
  try {
    const heard = await converse(page, [
      ['render', tone],
      ['render', { ...tone, volume: 3 }],
      ['setup_takes', '{"check":"knock","takes":[{"role":"free","weight":1}]}'],
      ['panic_on_purpose'],
    ]);
    assert.deepEqual(heard[0].value, { type: 'Float32Array', length: 96000 });
    assert.equal(heard[1].fault.field, 'volume');
    assert.equal(heard[2].fault.field, 'takes[0].weight');
    assert.match(heard[3].died, /asked to panic/);
  } finally {
    await close();
  }
});
