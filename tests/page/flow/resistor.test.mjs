// The help beside a field for a resistor: bands and letters by the keyboard, impossible ones refused, and its looks.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { withPage } from '../browser.mjs';
import { look } from '../looks.mjs';
import { press, tabTo } from '../walk.mjs';

const options = { context: { bypassCSP: true } };

/** Chooses a colour in the focused list by typing its name. */
async function band(page, n, colour) {
  await page.locator('.band-choices select').nth(n - 1).focus();
  await page.keyboard.type(colour, { delay: 5 });
  await page.waitForFunction(([i, c]) => document.querySelectorAll('.band-choices select')[i].value === c, [n - 1, colour]);
}

const says = (page, pattern) => page.waitForFunction((p) => new RegExp(p, 's').test(document.querySelector('.resistor-body [role=status]')?.textContent ?? ''), pattern);
const field = (page, label) => page.getByLabel(label).first().inputValue();

test('bands and letters are read into the field, with their tolerance; what cannot be is refused with its reason', () =>
  withPage(options, async ({ page, server }) => {
    await page.goto(`${server.address}#/setup/impedance`);
    await page.waitForSelector('.resistor-help');
    await tabTo(page, 'summary', 'Read it off the resistor');
    await page.keyboard.press('Enter');
    await says(page, 'Reads 47.Ω, within 5.%.*2\\.9.%');
    const findings = await look(page, 'resistor-help');

    await band(page, 1, 'brown');
    await band(page, 2, 'black');
    await band(page, 4, 'brown');
    await says(page, 'Reads 10.Ω, within 1.%');
    await press(page, 'button', 'Take 10');
    assert.equal(await field(page, 'Known resistor'), '10');
    assert.equal(await field(page, 'How well it is known'), '1');
    assert.match(await page.textContent('.made'), /one after the other|side by side/);

    await band(page, 1, 'gold');
    await says(page, 'Band 1 is a digit.*gold');
    assert.equal(await page.locator('button', { hasText: /^Take / }).count(), 0);
    findings.push(...(await look(page, 'resistor-refused', [{ width: 390, height: 844, scheme: 'light' }])));

    await tabTo(page, '.resistor-body input[type=radio]');
    await page.keyboard.press('ArrowDown');
    await tabTo(page, '.resistor-body input[type=text]');
    await page.keyboard.type('5W22RK');
    await says(page, 'Reads 22.Ω, within 10.%');
    await press(page, 'button', 'Take 22');
    assert.equal(await field(page, 'Known resistor'), '22');
    assert.equal(await field(page, 'How well it is known'), '10');
    assert.deepEqual(findings, []);
  }));
