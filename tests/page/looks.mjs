// Looks at a screen in both widths, light and dark: a picture each into target/screenshots, and what axe finds.
import { mkdirSync, readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { fileURLToPath } from 'node:url';

const axe = readFileSync(createRequire(new URL('../../www/package.json', import.meta.url)).resolve('axe-core'), 'utf8');
const folder = fileURLToPath(new URL('../../target/screenshots/', import.meta.url));

export const VARIANTS = [
  { width: 1280, height: 900, scheme: 'light' },
  { width: 390, height: 844, scheme: 'light' },
  { width: 390, height: 844, scheme: 'dark' },
  { width: 1280, height: 900, scheme: 'dark' },
];

let turn = 0;
function turnAbout() {
  turn += 1;
  return VARIANTS.filter((_, i) => i % 2 === turn % 2);
}

/** What the page may not be: to be run in it. Answers one line a finding. */
async function runAxe(source) {
  if (!window.axe) (0, eval)(source);
  const found = await window.axe.run(document, { resultTypes: ['violations'] });
  return found.violations.flatMap((v) => v.nodes.map((n) => `${v.id}: ${n.target.join(' ')} (${(n.any[0] ?? n.all[0] ?? n.none[0])?.message ?? v.help})`));
}

/**
 * Answers every finding, each with the screen and variant it was seen in; pictures go to target/screenshots. Without
 * `variants` it is two of them, turn about: both widths and both schemes of each screen, a minute less of the whole.
 */
export async function look(page, name, variants = turnAbout()) {
  mkdirSync(folder, { recursive: true });
  const findings = [];
  for (const { width, height, scheme } of variants) {
    await page.setViewportSize({ width, height });
    await page.emulateMedia({ colorScheme: scheme, reducedMotion: 'reduce' });
    const label = `${name}-${width}${scheme === 'dark' ? '-dark' : ''}`;
    await page.screenshot({ path: `${folder}${label}.png`, fullPage: true });
    for (const found of await page.evaluate(runAxe, axe)) findings.push(`${label}: ${found}`);
    const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
    if (wide > 0) findings.push(`${label}: ${wide} px wider than the window`);
  }
  return findings;
}
