// The page as delivered: no foreign request, a strict policy, offline after one visit, an update that waits.
import assert from 'node:assert/strict';
import { cp, mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { test } from 'node:test';
import { serve } from '../../../pkg-scripts/serve.mjs';
import { openPage, SITE } from '../browser.mjs';
import { startPractice, walk } from '../walk.mjs';

/** The worker of the page has to be really there: it is asked for something. */
async function coreAnswers(page) {
  return page.evaluate(async () => {
    const worker = new Worker('worker.js');
    const answer = await new Promise((done) => {
      worker.onmessage = ({ data }) => 'value' in data && done(data.value);
      worker.postMessage({ id: 1, name: 'version', args: [] });
    });
    worker.terminate();
    return answer;
  });
}

async function settled(page) {
  await page.evaluate(() => navigator.serviceWorker.ready.then(() => undefined));
  await page.waitForFunction(() => navigator.serviceWorker.controller !== null);
}

test('opens without a foreign request, an error or a blocked file', async () => {
  const { page, problems, close } = await openPage();
  try {
    await page.waitForSelector('h1');
    assert.match(await coreAnswers(page), /^\d+\.\d+\.\d+$/);
    assert.deepEqual(problems, []);
  } finally {
    await close();
  }
});

test('the policy blocks foreign requests and inline scripts', async () => {
  const { page, close } = await openPage();
  try {
    const outcome = await page.evaluate(async () => {
      const directives = [];
      addEventListener('securitypolicyviolation', (event) => directives.push(event.effectiveDirective));
      const script = document.createElement('script');
      script.textContent = 'window.inlineRan = true';
      document.head.append(script);
      const fetched = await fetch('http://127.0.0.1:9/').then(() => 'allowed', () => 'blocked');
      const evaluated = document.createElement('button');
      evaluated.setAttribute('onclick', 'window.handlerRan = true');
      evaluated.click();
      await new Promise((done) => setTimeout(done, 50));
      return { inline: window.inlineRan === true, handler: window.handlerRan === true, fetched, directives };
    });
    assert.equal(outcome.inline, false);
    assert.equal(outcome.handler, false);
    assert.equal(outcome.fetched, 'blocked');
    // The policy did it, not a missing server.
    for (const directive of ['script-src-elem', 'script-src-attr', 'connect-src']) {
      assert.ok(outcome.directives.includes(directive), `${directive} not among ${outcome.directives}`);
    }
  } finally {
    await close();
  }
});

test('can be installed: the browser finds nothing amiss with the manifest and its pictures', async () => {
  const { page, close } = await openPage();
  try {
    await settled(page);
    const devtools = await page.context().newCDPSession(page);
    const { errors, data } = await devtools.send('Page.getAppManifest');
    assert.deepEqual(errors, []);
    const manifest = JSON.parse(data);
    assert.equal(manifest.display, 'standalone');
    const sizes = await page.evaluate(
      (icons) =>
        Promise.all(
          icons.map(async ({ src }) => {
            const picture = await createImageBitmap(await (await fetch(src)).blob());
            return `${picture.width}x${picture.height}`;
          }),
        ),
      manifest.icons.filter((icon) => icon.type === 'image/png'),
    );
    assert.deepEqual(sizes, ['192x192', '512x512', '512x512']);
    const { installabilityErrors } = await devtools.send('Page.getInstallabilityErrors');
    // A test's profile is a private one, in which nothing is ever installed.
    assert.deepEqual(installabilityErrors.filter((e) => e.errorId !== 'in-incognito'), []);
  } finally {
    await close();
  }
});

test('works with the server stopped after one visit', async () => {
  const { page, server, problems, close } = await openPage();
  try {
    await settled(page);
    await server.close();
    await assert.rejects(fetch(server.address), 'the server must really be gone');
    await page.reload();
    await page.waitForSelector('h1');
    assert.match(await coreAnswers(page), /^\d+\.\d+\.\d+$/);
    await startPractice(page, { check: 'by the coil' });
    const end = await walk(page);
    assert.ok(end.read, end.sentence);
    assert.deepEqual(problems, []);
  } finally {
    await close();
  }
});

test('a newer page is fetched, waits, and takes over only when told', async () => {
  const folder = await mkdtemp(join(tmpdir(), 'site-'));
  await cp(SITE, folder, { recursive: true });
  const server = await serve(folder);
  const { page, close } = await openPage();
  try {
    await page.goto(server.address);
    await settled(page);
    // The page sets its own title; this stays as the file has it.
    const mark = () => page.getAttribute('meta[name=description]', 'content');
    const before = await mark();

    for (const [file, from, to] of [
      ['index.html', '"The bench of', '"Newer: The bench of'],
      ['service-worker.js', 'conewright-page-', 'conewright-page-newer-'],
    ]) {
      const text = await readFile(join(folder, file), 'utf8');
      assert.ok(text.includes(from), `${file} has changed its shape`);
      await writeFile(join(folder, file), text.replaceAll(from, to));
    }
    await page.evaluate(async () => {
      const registration = await navigator.serviceWorker.ready;
      await registration.update();
      while (!registration.waiting) await new Promise((done) => setTimeout(done, 20));
    });
    // Nothing has changed under the open page, nor after a reload.
    await page.reload();
    assert.equal(await mark(), before);

    // In a check it does not say a word; at the start it offers itself, and takes over at the press.
    await page.goto(`${server.address}#/check/impedance?practice=twelve`);
    await page.waitForSelector('.stations');
    assert.equal(await page.locator('.bar-notice').count(), 0);
    await page.goto(`${server.address}#/`);
    await page.waitForSelector('.bar-notice');
    assert.match(await page.textContent('.bar-notice'), /newer version/);
    await page.click('.bar-notice button');
    await page.waitForFunction((old) => document.querySelector('meta[name=description]')?.content === `Newer: ${old}`, before);
    await page.waitForSelector('a.plate');
  } finally {
    await close();
    await server.close();
    await rm(folder, { recursive: true, force: true });
  }
});
