// Job files and links: what goes out comes in again whole; what is damaged, huge or hostile is refused in words and leaves
// the store exactly as it was.
import assert from 'node:assert/strict';
import { createHash } from 'node:crypto';
import { readFile } from 'node:fs/promises';
import { createRequire } from 'node:module';
import { test } from 'node:test';
import { withPage } from '../browser.mjs';
import { inStore } from '../kept.mjs';
import { look } from '../looks.mjs';
import { readKnock } from '../read_knock.mjs';
import { press } from '../walk.mjs';

const { strFromU8, strToU8, unzipSync, zipSync } = createRequire(new URL('../../../www/package.json', import.meta.url))('fflate');
const RECORD = JSON.parse(await readFile(new URL('../../job_records/version_2.json', import.meta.url), 'utf8'));
const STORES = ['jobs', 'readings', 'takes', 'samples', 'photos'];

/** Puts entries into a store of the page, past its own code. */
const put = (page, store, entries) =>
  page.evaluate(
    ([name, all]) =>
      new Promise((done, failed) => {
        const open = indexedDB.open('conewright-bench-store');
        open.onsuccess = () => {
          const work = open.result.transaction(name, 'readwrite');
          for (const { bytes, ...entry } of all) work.objectStore(name).put(bytes ? { ...entry, data: Uint8Array.from(bytes).buffer } : entry);
          work.oncomplete = () => (open.result.close(), done());
          work.onabort = () => failed(work.error);
        };
      }),
    [store, entries],
  );

/** Everything in the store as one text; samples by their bytes. */
const wholeStore = (page) =>
  page.evaluate(async (names) => {
    const db = await new Promise((done) => (indexedDB.open('conewright-bench-store').onsuccess = (event) => done(event.target.result)));
    const plain = (_name, value) => (value instanceof ArrayBuffer ? Array.from(new Uint8Array(value)).join() : ArrayBuffer.isView(value) ? Array.from(value) : value);
    const all = [];
    for (const name of names) all.push(await new Promise((done) => (db.transaction(name).objectStore(name).getAll().onsuccess = (event) => done(event.target.result))));
    db.close();
    return JSON.stringify(all, plain);
  }, STORES);

const JPEG = [0xff, 0xd8, 0xff, 0xe0, 0, 16, 74, 70, 73, 70, 0, 1, 0xff, 0xd9];

/** A job with a filed reading and a photo, made in this page. Answers the job's file and what it was made of. */
async function makeFile(page, server) {
  await readKnock(page);
  const [reading] = await inStore(page, 'readings');
  const part = { ...RECORD.parts[0], photos: ['photo-1'], looks: [], filed: [{ ...RECORD.parts[0].filed[0], reading: reading.id }] };
  const job = { ...RECORD, parts: [part, RECORD.parts[1]] };
  await put(page, 'photos', [{ id: 'photo-1', createdAt: 5, width: 8, height: 8, bytes: JPEG }]);
  await put(page, 'jobs', [{ id: job.id, createdAt: 1, changedAt: 2, job }]);
  await page.goto(`${server.address}#/files/${job.id}`);
  await page.waitForSelector('button.main:not([aria-disabled])');
  assert.match(await page.textContent('main'), /1 reading, 1 take, 1 photo/);
  const [file] = await Promise.all([page.waitForEvent('download'), press(page, 'button.main', 'Save as a file')]);
  await page.waitForFunction(() => document.querySelector('[role=status]')?.textContent.includes('Saved as'));
  return { name: file.suggestedFilename(), bytes: await readFile(await file.path()), job, reading };
}

/** Chooses a file and waits for what the page says of it. */
const open = async (page, buffer, name = 'job.conewright') => {
  await page.evaluate(() => document.querySelectorAll('.fault, .in-file').forEach((e) => e.setAttribute('data-old', '')));
  await page.setInputFiles('#job-file', { name, mimeType: 'application/octet-stream', buffer: Buffer.from(buffer) });
  await page.waitForSelector('.in-file:not([data-old]), .fault:not([data-old])');
};

let made;

test('a job goes out as one file, whose sums agree, and comes into another browser whole', () =>
  withPage({ context: { bypassCSP: true } }, async ({ page, browser, server }) => {
    made = await makeFile(page, server);
    assert.match(made.name, /^Fallow-three-way-pair-\d{4}-\d\d-\d\d\.conewright$/);
    assert.ok((await inStore(page, 'jobs'))[0].exportedAt > 2);
    const entries = unzipSync(made.bytes);
    const manifest = JSON.parse(strFromU8(entries['manifest.json']));
    assert.equal(manifest.format, 'conewright job file');
    assert.deepEqual(manifest.entries.map((e) => e.name).sort(), Object.keys(entries).filter((n) => n !== 'manifest.json').sort());
    for (const { name, bytes, sha256 } of manifest.entries) {
      assert.equal(entries[name].length, bytes);
      assert.equal(createHash('sha256').update(entries[name]).digest('hex'), sha256);
    }
    const before = JSON.parse(await wholeStore(page));

    const other = await (await browser.newContext({ bypassCSP: true })).newPage();
    await other.goto(`${server.address}#/files`);
    await other.waitForSelector('#job-file');
    await open(other, made.bytes);
    assert.deepEqual(await look(other, 'files-opened'), []);
    await press(other, '.in-file button.main');
    await other.waitForSelector('[role=status] a.button');
    const after = JSON.parse(await wholeStore(other));
    assert.deepEqual(after[0][0].job, before[0][0].job);
    for (const n of [1, 2, 3, 4]) assert.deepEqual(after[n], before[n], STORES[n]);

    // The same file once more: all of it is there already.
    await open(other, made.bytes);
    assert.match(await other.textContent('.in-file'), /lies here already/);
    await press(other, '.in-file button.main');
    await other.waitForFunction(() => document.querySelector('[role=status]')?.textContent.includes('3 readings, takes or photos lay here already'));
    const again = JSON.parse(await wholeStore(other));
    assert.deepEqual(again[0][0].job, before[0][0].job);
    for (const n of [1, 2, 3, 4]) assert.deepEqual(again[n], before[n], STORES[n]);
    await other.context().close();
  }));

/** The file with its entries changed; the manifest says what is then in it, unless it is changed itself. */
function changed(act, { manifest = (m) => m } = {}) {
  const entries = unzipSync(made.bytes);
  delete entries['manifest.json'];
  act(entries);
  const list = Object.entries(entries).map(([name, data]) => ({ name, bytes: data.length, sha256: createHash('sha256').update(data).digest('hex') }));
  const head = manifest({ format: 'conewright job file', version: 1, written_at: '2026-01-31T10:00:00.000Z', entries: list });
  return zipSync({ ...entries, 'manifest.json': strToU8(JSON.stringify(head)) }, { level: 1 });
}

const json = (name, act) => (entries) => {
  const value = JSON.parse(strFromU8(entries[name]));
  entries[name] = strToU8(JSON.stringify(act(value) ?? value));
};
const raw = (name, text) => (entries) => (entries[name] = strToU8(text));

/** Name, file, what the page must say. */
function hostile() {
  const reading = `readings/${made.reading.id}.json`;
  const take = `takes/${made.reading.takes[0].id}`;
  const flipped = Buffer.from(made.bytes);
  flipped[Math.floor(flipped.length / 2)] ^= 0xff;
  // The length of the largest entry in the central directory, declared far too large; then too small.
  const declared = (size) => {
    const zip = Buffer.from(made.bytes);
    let at = zip.indexOf(Buffer.from('PK\x01\x02', 'latin1'));
    while (!zip.subarray(at + 46, at + 46 + zip.readUInt16LE(at + 28)).toString().endsWith('.wav')) at = zip.indexOf(Buffer.from('PK\x01\x02', 'latin1'), at + 4);
    zip.writeUInt32LE(size, at + 24);
    return zip;
  };
  return [
    ['nothing', Buffer.alloc(0), /no job file/],
    ['text', Buffer.from('hello'), /no job file/],
    ['another zip', zipSync({ 'a.txt': strToU8('a') }), /holds something|no job file/],
    ['cut off', made.bytes.subarray(0, made.bytes.length - 300), /damaged/],
    ['cut in the middle', made.bytes.subarray(0, made.bytes.length >> 1), /damaged/],
    ['a byte flipped', flipped, /damaged/],
    ['a length far too large', declared(0xf0000000), /far more than a job/],
    ['a length too small', declared(100), /damaged/],
    ['a newer container', changed(() => undefined, { manifest: (m) => ({ ...m, version: 2, strange: true }) }), /newer version of this page/],
    ['another format', changed(() => undefined, { manifest: (m) => ({ ...m, format: 'something' }) }), /no job file/],
    ['a newer record', changed(json('job.json', (j) => ({ ...j, version: 99 }))), /newer version of this page \(version 99/],
    ['an entry too many', changed((e) => (e['evil.html'] = strToU8('<script>'))), /holds something/],
    ['a path upwards', changed((e) => (e['../../x.json'] = strToU8('{}'))), /holds something/],
    ['an entry the list does not name', changed(() => undefined, { manifest: (m) => ({ ...m, entries: m.entries.slice(1) }) }), /holds something/],
    ['a sum that is wrong', changed(() => undefined, { manifest: (m) => ({ ...m, entries: m.entries.map((e) => ({ ...e, sha256: '0'.repeat(64) })) }) }), /damaged/],
    ['no record', changed((e) => delete e['job.json']), /no record of a job/],
    ['nesting without end', changed(raw('job.json', '['.repeat(200_000))), /no record of a job/],
    ['nesting in a reading', changed(raw(reading, '{"a":'.repeat(100_000) + '1' + '}'.repeat(100_000))), /damaged|holds something/],
    ['a prototype', changed(raw(reading, strFromU8(unzipSync(made.bytes)[reading]).replace('"setup":{', '"setup":{"__proto__":{"polluted":true},'))), /holds something/],
    ['a reading in another shape', changed(json(reading, (r) => void (r.reading.values.f_s_hz.value = '47'))), /holds something/],
    ['a reading of no check', changed(json(reading, (r) => void (r.check = 'alchemy'))), /holds something/],
    ['a reading under another id', changed(json(reading, (r) => void (r.id = 'x'))), /holds something/],
    ['a take that is none', changed(raw(`${take}.wav`, 'RIFFxxxxWAVE')), /damaged/],
    ['a photo that is none', changed(raw('photos/photo-1.jpg', '<svg onload=alert(1)>')), /damaged/],
    ['a day that is none', changed(json('job.json', (j) => void (j.received_on = 'yesterday'))), /no day/],
    ['a field nobody knows', changed(json('job.json', (j) => void (j.colour = 'red'))), /unknown field/],
    ['a take of no reading', changed((e) => ((e['takes/x.wav'] = e[`${take}.wav`]), (e['takes/x.json'] = strToU8(strFromU8(e[`${take}.json`]).replace(/"id":"[^"]*"/, '"id":"x"'))))), /holds something/],
  ];
}

test('damaged, huge and hostile files are refused in words, and the store stays exactly as it was', () =>
  withPage({}, async ({ page, server }) => {
    if (!made) made = await makeFile(page, server);
    await page.goto(`${server.address}#/files`);
    await page.waitForSelector('#job-file');
    await put(page, 'jobs', [{ id: made.job.id, createdAt: 1, changedAt: 2, job: made.job }]);
    const before = await wholeStore(page);
    for (const [name, file, wanted] of hostile()) {
      await open(page, file);
      const said = await page.textContent('.fault').catch(() => 'nothing');
      assert.match(said, wanted, name);
      assert.ok(said.length < 500, name);
      assert.equal(await page.locator('.in-file').count(), 0, name);
    }
    assert.equal(await wholeStore(page), before);
    assert.equal(await page.evaluate(() => ({}).polluted), undefined);

    // Script in names is a name.
    const script = '<img src=x onerror="window.hurt=1"><script>window.hurt=1</script>';
    await open(page, changed(json('job.json', (j) => void ((j.title = script), (j.parts[0].band = script)))));
    assert.ok((await page.textContent('.in-file h3')).includes(script));
    await press(page, '.in-file button.main');
    await page.waitForSelector('[role=status] a.button');
    await press(page, '[role=status] a.button');
    await page.waitForSelector('.job-head');
    await page.waitForSelector('#conflicts');
    assert.equal(await page.evaluate(() => window.hurt), undefined);
    assert.match(await page.textContent('main'), /The copy of .* says/);
    await press(page, 'button', 'Clear the list');
    await page.waitForFunction(() => !document.querySelector('#conflicts'));
    await press(page, '[role=status] button', 'Undo');
    await page.waitForSelector('#conflicts');
  }));

test('a store that fails in the middle of an import keeps what it had, and the page says so', () =>
  withPage({}, async ({ page, server }) => {
    if (!made) made = await makeFile(page, server);
    await page.goto(`${server.address}#/files`);
    await page.waitForSelector('#job-file');
    const before = await wholeStore(page);
    for (const [how, wanted] of [
      ['full', /no room left/],
      ['abort', /did not answer/],
    ]) {
      await open(page, made.bytes);
      await page.evaluate((kind) => {
        const real = IDBObjectStore.prototype.add;
        IDBObjectStore.prototype.add = function (value) {
          // The samples come after the job, the readings and the take's own entry.
          if (this.name !== 'samples') return real.call(this, value);
          IDBObjectStore.prototype.add = real;
          if (kind === 'full') throw new DOMException('', 'QuotaExceededError');
          const request = real.call(this, value);
          this.transaction.abort();
          return request;
        };
      }, how);
      await press(page, '.in-file button.main');
      await page.waitForSelector('.fault');
      assert.match(await page.textContent('.fault'), wanted);
      assert.match(await page.textContent('main'), /Nothing was written/);
      assert.equal(await wholeStore(page), before, how);
      await page.reload();
      await page.waitForSelector('#job-file');
    }
    await open(page, made.bytes);
    await press(page, '.in-file button.main');
    await page.waitForSelector('[role=status] a.button');
    assert.equal((await inStore(page, 'readings')).length, 1);
  }));

test('a reading travels as a link, is shown as somebody else\u2019s, and is kept when asked for', () =>
  withPage({ context: { bypassCSP: true } }, async ({ page, browser, server }) => {
    if (!made) made = await makeFile(page, server);
    await page.goto(`${server.address}#/files`);
    await page.waitForSelector('#job-file');
    await open(page, made.bytes);
    await press(page, '.in-file button.main');
    await page.waitForSelector('[role=status] a.button');
    const [own] = await inStore(page, 'readings');
    await page.goto(`${server.address}#/reading/${own.id}`);
    await press(page, 'button', 'Share as a link');
    await page.waitForSelector('.shared-link input');
    const link = await page.inputValue('.shared-link input');
    assert.ok(link.length < 8100, `${link.length} characters`);
    const figures = await page.textContent('.leads');

    const other = await (await browser.newContext({ bypassCSP: true })).newPage();
    const asked = [];
    other.on('request', (request) => asked.push(request.url()));
    await other.goto(link);
    await other.waitForSelector('.leads');
    assert.equal(await other.textContent('.leads'), figures);
    assert.match(await other.textContent('.stub'), /Somebody else.s reading, not kept here/);
    const packed = link.split('#/shared/')[1];
    assert.ok(asked.every((url) => !url.includes(packed)), 'nothing of it goes to the server');
    assert.equal((await inStore(other, 'readings')).length, 0);
    assert.deepEqual(await look(other, 'shared'), []);
    await press(other, '.stub button.main', 'Keep it');
    await other.waitForFunction(() => location.hash.startsWith('#/reading/'));
    const [kept] = await inStore(other, 'readings');
    assert.deepEqual({ ...kept.reading.values.f_s_hz, budget: [] }, { ...own.reading.values.f_s_hz, budget: [] });
    assert.equal(kept.createdAt > own.createdAt, true);

    for (const bad of [packed.slice(0, -1), packed.slice(0, 40), packed.replace(/.$/, (sign) => (sign === 'A' ? 'B' : 'A')), '', '%', '%E0%A4%A', '__proto__', '<script>', 'A'.repeat(300_000)]) {
      await other.goto(`${server.address}#/`);
      await other.goto(`${server.address}#/shared/${bad}`);
      await other.waitForFunction(() => document.querySelector('h1')?.textContent.includes('does not hold a whole reading'), undefined, { timeout: 5000 });
    }
    await other.context().close();
  }));

test('little room and a cleared store are said before work is lost', () =>
  withPage({}, async ({ page, server }) => {
    // The page makes the stores; opened from here first, the database would be an empty one.
    await page.waitForSelector('.list-empty');
    await put(page, 'jobs', [{ id: RECORD.id, createdAt: 1, changedAt: 2, job: { ...RECORD, parts: [] } }]);
    await page.goto(`${server.address}#/files`);
    await page.waitForSelector('#job-file');
    await page.waitForFunction(() => JSON.parse(localStorage.getItem('conewright-kept') ?? '{}').jobs === 1);
    await page.goto(`${server.address}#/`);
    await page.waitForSelector('.export-reminder');
    assert.match(await page.textContent('.export-reminder'), /In this browser only/);
    assert.equal(await page.locator('.bar-notice').count(), 0);

    await page.evaluate(() => new Promise((done, failed) => Object.assign(indexedDB.deleteDatabase('conewright-bench-store'), { onsuccess: done, onerror: failed })));
    await page.addInitScript(() => (navigator.storage.estimate = async () => ({ usage: 950e6, quota: 1000e6 })));
    await page.reload();
    await page.waitForFunction(() => document.querySelectorAll('.bar-notice').length === 2);
    const said = (await page.locator('.bar-notice').allTextContents()).join(' ');
    assert.match(said, /1 job and 0 readings are no longer there/);
    assert.match(said, /Only 50\u00a0MB are left/);
    await press(page, '.bar-notice button', 'Understood');
    await page.waitForFunction(() => document.querySelectorAll('.bar-notice').length === 1);
    await page.reload();
    await page.waitForSelector('.bar-notice');
    assert.equal(await page.locator('.bar-notice').count(), 1);
  }));
