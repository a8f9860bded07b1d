// A core that panics in the middle of a check: said so, replaced, and the reading comes all the same.
import assert from 'node:assert/strict';
import { readFile } from 'node:fs/promises';
import { join } from 'node:path';
import { test } from 'node:test';
import { SITE, withPage } from '../browser.mjs';
import { inStore } from '../kept.mjs';
import { press, startPractice, walk } from '../walk.mjs';

/** The page's worker, which panics at its first analysis. Later workers do not, but are slow to say which step follows. */
async function panicOnce(page) {
  const own = await readFile(join(SITE, 'worker.js'), 'utf8');
  const otherwise = (name, act) => `${own}
    ;{
      const hear = self.onmessage;
      self.onmessage = (event) => {
        if (event.data.name.startsWith('${name}_')) ${act};
        else hear(event);
      };
    }`;
  const panicking = otherwise('analyse', "hear(new MessageEvent('message', { data: { id: event.data.id, name: 'panic_on_purpose', args: [] } }))");
  const slow = otherwise('step', 'setTimeout(() => hear(event), 500)');
  // The practice bench has a worker of its own, which comes first: the core's is told by its name.
  await page.addInitScript(() => {
    const Own = Worker;
    let cores = 0;
    window.Worker = class extends Own {
      constructor(address, options) {
        super(options.name === 'core' ? `${address}?${cores++ === 0 ? 'panicking' : 'slow'}` : address, options);
      }
    };
  });
  await page.route('**/worker.js?*', (route) => route.fulfill({ contentType: 'text/javascript', body: route.request().url().endsWith('panicking') ? panicking : slow }));
}

test('a panic of the core is told, the takes are kept, and the result comes from a new one', () =>
  withPage({ context: { serviceWorkers: 'block' } }, async ({ page, problems }) => {
    await panicOnce(page);
    await page.reload();
    await startPractice(page, { check: 'by the coil' });
    const stuck = await walk(page, { until: (now) => /measuring core stopped/.test(now.fault ?? '') });
    assert.ok(!stuck.read && !stuck.refused);
    const takes = await inStore(page, 'takes');
    assert.ok(takes.length > 0);
    await press(page, 'button', 'Understood');
    const end = await walk(page);
    assert.ok(end.read, end.sentence);
    // A press belongs to one step, however long the next one is in coming: two clicks are one choice, and one step takes it back.
    const click = (words, times = 1) =>
      page.evaluate(
        ([wanted, n]) => {
          const button = [...document.querySelectorAll('.stub button')].find((b) => b.textContent.startsWith(wanted));
          for (let i = 0; i < n; i++) button.click();
        },
        [words, times],
      );
    const shows = (sentence, is) => page.waitForFunction(([s, wanted]) => (document.querySelector('h1').textContent === s) === wanted, [sentence, is]);
    await click('A weight on the cone', 2);
    await shows(end.sentence, false);
    await click('One step back');
    await shows(end.sentence, true);
    assert.equal((await inStore(page, 'takes')).length, takes.length, 'no take had to be made again');
    problems.length = 0; // the blocked service worker is reported as an error, which is no matter here
  }));
