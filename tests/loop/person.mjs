// A person at the page: reads the large sentence, does what it asks for, presses the main button.
import { setTimeout as wait } from 'node:timers/promises';

const LOOK_EVERY_MS = 250;

/** What a person sees: sentence, buttons that can be pressed, whether something runs, whether the check has ended. */
export function look(page) {
  return page.evaluate(() => {
    const shown = (e) => e.getClientRects().length > 0;
    const text = (e) => e.textContent.trim();
    const all = (css) => [...document.querySelectorAll(css)].filter(shown);
    const buttons = all('button.button').filter((b) => b.getAttribute('aria-disabled') !== 'true');
    return {
      sentence: text(document.querySelector('h1') ?? document.body),
      main: buttons.filter((b) => b.classList.contains('main')).map(text)[0],
      others: buttons.filter((b) => !b.classList.contains('main')).map(text),
      runs: document.querySelector('#stop') !== null,
      open: all('input[type=checkbox]').some((box) => !box.checked),
      said: all('[role=alert], [role=status], .notice').map(text).filter(Boolean).join(' | '),
    };
  });
}

/**
 * Goes on until `ended(seen)` or `limitMs`. `answers` is a list of `[pattern, act(page, seen)]`: the first that matches
 * a new sentence acts; without one, points are ticked and the main button is pressed. Answers what was seen last.
 */
export async function walk(page, answers, ended, limitMs) {
  const begin = Date.now();
  let last = '';
  for (;;) {
    if (Date.now() - begin > limitMs) throw new Error(`not done after ${limitMs / 1000} s, at: ${last}`);
    const seen = await look(page);
    if (ended(seen)) return seen;
    if (/This step did not work/.test(seen.said)) throw new Error(seen.said);
    const now = `${seen.sentence} [${seen.main ?? (seen.runs ? 'runs' : '-')}] ${seen.said}`;
    if (now !== last) console.log(`    ${((Date.now() - begin) / 1000).toFixed(0).padStart(4)} s  ${now.slice(0, 160)}`);
    last = now;
    const own = answers.find(([pattern]) => pattern.test(seen.sentence));
    if (own) await own[1](page, seen);
    else if (!seen.runs && seen.main) await press(page, seen);
    await wait(LOOK_EVERY_MS);
  }
}

/** Ticks what is open and presses the main button. */
export async function press(page, seen) {
  if (seen.open) for (const box of await page.locator('input[type=checkbox]').all()) await box.check();
  // By its name: the page may have gone on to another step since it was looked at.
  const main = page.getByRole('button', { name: seen.main, exact: true }).first();
  await main.click({ timeout: 1000 }).catch(() => undefined);
}

/** The newest reading, as it lies in the page's own store. */
export function newestReading(page) {
  return page.evaluate(
    () =>
      new Promise((done, failed) => {
        const opening = indexedDB.open('conewright-bench-store');
        opening.onerror = () => failed(opening.error);
        opening.onsuccess = () => {
          const all = opening.result.transaction('readings').objectStore('readings').getAll();
          all.onerror = () => failed(all.error);
          all.onsuccess = () => {
            opening.result.close();
            done(all.result.sort((a, b) => b.createdAt - a.createdAt)[0]);
          };
        };
      }),
  );
}
