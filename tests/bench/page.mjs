// Figures of the page: how soon it is ready, and whether anything holds its thread while it records. Prints a table; a
// figure of time is never a test, as a busy machine would fail it.
// `node tests/bench/page.mjs [ROUNDS]` on the built page.
import { openPage } from '../page/browser.mjs';
import { knockWav } from '../page/fixtures.mjs';
import { press, tabTo, walk } from '../page/walk.mjs';

const ROUNDS = Number(process.argv[2] ?? 5);
const SLOW = 4;
const LONG_MS = 50;
const median = (list) => [...list].sort((a, b) => a - b)[list.length >> 1];

/** Slows the page's thread down. Workers keep their speed: the browser's throttle does not reach them. */
async function slowDown(page, rate) {
  const devtools = await page.context().newCDPSession(page);
  await devtools.send('Emulation.setCPUThrottlingRate', { rate });
}

/** Milliseconds from the begin of the navigation until `selector` is drawn and the thread is free for a press. */
async function readyMs(hash, selector, rate) {
  const { page, server, close } = await openPage({ path: 'manifest.webmanifest' });
  try {
    await slowDown(page, rate);
    await page.addInitScript((wanted) => {
      const look = () => {
        if (!document.querySelector(wanted)) return requestAnimationFrame(look);
        // Two frames and a turn of the loop later it is on the screen, and nothing stands before an input.
        requestAnimationFrame(() => requestAnimationFrame(() => setTimeout(() => (window.readyAt = performance.now()))));
      };
      requestAnimationFrame(look);
    }, selector);
    await page.goto(`${server.address}${hash}`);
    await page.waitForFunction(() => window.readyAt !== undefined);
    return await page.evaluate(() => window.readyAt);
  } finally {
    await close();
  }
}

/** Long tasks of the page's thread while a take runs, STOP standing there; `act` leads through one. */
async function longTasks(options, hash, rate, act) {
  const { page, server, close } = await openPage({ path: 'manifest.webmanifest', ...options });
  try {
    await page.addInitScript(() => {
      window.tasks = [];
      window.live = [];
      new PerformanceObserver((list) => list.getEntries().forEach((e) => window.tasks.push([e.startTime, e.duration]))).observe({ type: 'longtask' });
      let since;
      const look = () => {
        const is = document.querySelector('.stub.live #stop') !== null;
        if (is && since === undefined) since = performance.now();
        if (!is && since !== undefined) since = void window.live.push([since, performance.now()]);
        requestAnimationFrame(look);
      };
      requestAnimationFrame(look);
    });
    await page.goto(`${server.address}${hash}`);
    await slowDown(page, rate);
    await act(page);
    await slowDown(page, 1);
    const { tasks, live } = await page.evaluate(() => ({ tasks: window.tasks, live: window.live }));
    const inTakes = tasks.filter(([at, ms]) => live.some(([from, to]) => at + ms > from && at < to));
    return { ms: inTakes.map(([, ms]) => ms), seconds: live.reduce((sum, [from, to]) => sum + (to - from) / 1000, 0) };
  } finally {
    await close();
  }
}

/** Knocks through the fake input, until they are read. */
async function knock(page) {
  await page.waitForSelector('button.main');
  await press(page, 'button.main', 'Open the input');
  await walk(page);
}

/** Levels and the first takes of the impedance road; the fake input knows nothing of a driver, so it ends in a refusal. */
async function impedance(page) {
  await page.waitForSelector('button.main');
  await tabTo(page, 'input[inputmode=decimal]');
  await page.keyboard.type('47');
  await press(page, 'button.main', 'Open the input');
  await walk(page);
}

const wav = knockWav(44_100, undefined, 'knock-44100.wav');
const READY = [
  ['start: plates can be pressed', '', 'a.plate'],
  ['first step of impedance, core loaded', '#/check/impedance?practice=twelve', '.stations'],
  ['first step of knock, core loaded', '#/check/knock_coil?practice=twelve', '.stations'],
];
console.log(`Ready, ms after the navigation began, nothing in the browser's store (median of ${ROUNDS}; 1 s at ${SLOW} times slower is the aim):`);
for (const [name, hash, selector] of READY) {
  const found = [];
  for (const rate of [1, SLOW]) {
    const list = [];
    for (let n = 0; n < ROUNDS; n++) list.push(await readyMs(hash, selector, rate));
    found.push(median(list).toFixed(0).padStart(5));
  }
  console.log(`${name.padEnd(40)} ${found[0]}   ${SLOW} times slower ${found[1]}`);
}
console.log(`Tasks of more than ${LONG_MS} ms on the page's thread while a take runs (none is the aim):`);
for (const [name, hash, options, act] of [
  ['knocks listened to', '#/setup/knock?sensor=coil', { sound: { wav } }, knock],
  ['impedance, tones and takes', '#/setup/impedance', {}, impedance],
]) {
  for (const rate of [1, SLOW]) {
    const { ms, seconds } = await longTasks(options, hash, rate, act);
    const said = ms.length === 0 ? 'none' : `${ms.length}, longest ${Math.max(...ms).toFixed(0)} ms`;
    console.log(`${name.padEnd(40)} ${rate === 1 ? 'as it is      ' : `${SLOW} times slower`}  ${said} in ${seconds.toFixed(0)} s of takes`);
  }
}
