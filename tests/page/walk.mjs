// Leads the built page the way a person does who has only the keyboard: Tab until the wanted thing has the focus, then
// Enter or the space bar. What it cannot reach so, no such person could.

const MOST_TABS = 120;

/** Tabs until the focused element matches `selector` (and holds `text`, if given). */
export async function tabTo(page, selector, text) {
  for (let n = 0; n < MOST_TABS; n++) {
    await page.keyboard.press('Tab');
    const there = await page.evaluate(
      ([s, t]) => {
        const focused = document.activeElement;
        return focused !== null && focused.matches(s) && (!t || (focused.getAttribute('aria-label') ?? focused.textContent).includes(t));
      },
      [selector, text],
    );
    if (there) return;
  }
  throw new Error(`${selector} ${text ?? ''} cannot be reached with ${MOST_TABS} tabs`);
}

export async function press(page, selector, text) {
  await tabTo(page, selector, text);
  await page.keyboard.press('Enter');
}

/**
 * From the start (or the practice bench's own screen, where it stands `there` already) to the first step of a check on the
 * practice bench. `faultBegins` begins the words of the fault.
 */
export async function startPractice(page, { check, driver, faultBegins, there = false } = {}) {
  if (!there) await press(page, 'a.plate', 'No hardware');
  await page.waitForSelector('.driver-choice');
  if (driver) await pickRadio(page, 'input[type=radio][name=driver]', driver);
  if (check) await pickRadio(page, 'fieldset.choice input[type=radio]', check);
  if (faultBegins) {
    // Typing the begin of an option's words chooses it, as in every list of a system.
    await tabTo(page, 'select');
    await page.keyboard.type(faultBegins, { delay: 5 });
    const chosen = await page.evaluate(() => document.activeElement.selectedOptions[0].textContent);
    if (!chosen.startsWith(faultBegins)) throw new Error(`chose "${chosen}" instead of "${faultBegins}"`);
  }
  await press(page, 'button.main');
}

/** Goes through a group of radios with the arrow keys until the one whose label holds `text` is chosen. */
async function pickRadio(page, selector, text) {
  await tabTo(page, selector);
  for (let n = 0; n < 12; n++) {
    const label = await page.evaluate(() => document.activeElement.closest('label').textContent);
    if (label.includes(text)) {
      await page.keyboard.press('Space');
      return;
    }
    await page.keyboard.press('ArrowDown');
  }
  throw new Error(`no choice "${text}"`);
}

/** What the person sees: the large sentence, and what can be done. */
export function seen(page) {
  return page.evaluate(() => {
    const main = document.querySelector('.stub button.main, button.main');
    return {
      sentence: document.querySelector('h1')?.textContent ?? '',
      refused: document.querySelector('.refused-head') !== null,
      read: document.querySelector('.refused-head') === null && [...document.querySelectorAll('h2')].some((h) => h.textContent === 'Take it with you'),
      openTicks: document.querySelectorAll('.ticks input:not(:checked)').length,
      // While the next step is awaited, presses do not count.
      main: main && main.getAttribute('aria-disabled') !== 'true' && !main.closest('[aria-busy=true]') ? main.textContent : undefined,
      stop: document.querySelector('#stop') !== null,
      playing: document.querySelector('.stub.live #stop') !== null && document.querySelector('[role=progressbar]') !== null,
      fault: document.querySelector('.fault, [role=alert]')?.textContent,
    };
  });
}

/** Waits for what a press brings about, or a second press would fall upon the next step. */
async function changed(page, before) {
  for (let n = 0; n < 60; n++) {
    const { sentence, main, stop } = await seen(page);
    if (sentence !== before.sentence || main !== before.main || stop !== before.stop) return;
    await page.waitForTimeout(50);
  }
}

/**
 * Does at every step what the step asks, until a reading or a refusal stands there; answers what is seen then and the
 * sentences on the way. `until` ends it earlier; `onStep` is called at each new sentence.
 */
export async function walk(page, { until = () => false, onStep = async () => undefined, patienceMs = 90_000 } = {}) {
  const end = Date.now() + patienceMs;
  const sentences = [];
  while (Date.now() < end) {
    const now = await seen(page);
    if (now.sentence && now.sentence !== sentences.at(-1)) {
      sentences.push(now.sentence);
      await onStep(now);
    }
    if (now.refused || now.read || until(now)) return { ...now, sentences };
    if (now.openTicks > 0) {
      await tabTo(page, '.ticks input:not(:checked)');
      await page.keyboard.press('Space');
    } else if (now.main && !now.stop) {
      try {
        await press(page, 'button.main', now.main);
      } catch (error) {
        // A series goes on by itself: the button may have gone while the way led to it.
        if ((await seen(page)).main === now.main) throw error;
      }
      await changed(page, now);
    } else await page.waitForTimeout(60);
  }
  throw new Error(`not done; the way was:\n${sentences.join('\n')}\n${JSON.stringify(await seen(page))}`);
}
