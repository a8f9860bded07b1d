// Numbers as people read and type them, and dots that never hide a miss.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { decimalsFor, fixed, pair, parseEntry, significant } from '../../../www/app/ui/format';
import { thin } from '../../../www/app/ui/plot/frame';
import { lowerFirst, remedySteps } from '../../../www/app/ui/notices';

test('value and half-width end at the same decimal place, two digits of the half-width at most (GUM 7.2.6)', () => {
  assert.deepEqual(pair(31.41623, 0.0426), { value: '31.42', plusMinus: '0.04' });
  assert.deepEqual(pair(26.31552, 0.00213), { value: '26.3155', plusMinus: '0.0021' });
  assert.deepEqual(pair(4.8312, 0.1), { value: '4.83', plusMinus: '0.10' });
  assert.deepEqual(pair(1234.5, 42), { value: '1230', plusMinus: '40' });
  assert.deepEqual(pair(-0.42, 0.5), { value: '\u22120.4', plusMinus: '0.5' });
});

test('rounding a half-width never drops its last digit or adds a third', () => {
  for (let i = 0; i < 400; i++) {
    const half = 10 ** (-4 + i / 50);
    const { value, plusMinus } = pair(123.456, half);
    const digits = plusMinus.replace('.', '').replace(/^0+/, '').replace(/0+$/, '');
    assert.ok(digits.length >= 1 && digits.length <= 2, `${half} gave ${plusMinus}`);
    const places = (text: string) => text.split('.')[1]?.length ?? 0;
    assert.equal(places(value), places(plusMinus));
    // Half a unit of the last place is at most a sixth of the half-width that is shown with one digit from 3 up.
    assert.ok(Math.abs(Number(plusMinus) - half) / half < 0.17, `${half} gave ${plusMinus}`);
  }
});

test('nought, minus and powers of ten', () => {
  assert.equal(fixed(-0.0004, 2), '0.00');
  assert.equal(fixed(-12.34, 1), '\u221212.3');
  assert.equal(fixed(1260, -2), '1300');
  assert.equal(significant(0.00012345, 2), '0.00012');
  assert.equal(significant(0, 3), '0');
  assert.equal(decimalsFor(0), 3);
});

test('a typed number may have a comma or a dot, and a slip is named', () => {
  for (const text of ['6.2', '6,2', ' 6,2 ', '6.20']) assert.deepEqual(parseEntry(text), { value: 6.2 });
  assert.deepEqual(parseEntry('1 000'), { value: 1000 });
  assert.deepEqual(parseEntry('\u22125'), { value: -5 });
  assert.deepEqual(parseEntry('1o'), { fault: 'letter_o' });
  assert.deepEqual(parseEntry(''), { fault: 'empty' });
  for (const text of ['6.2.1', '6,200,1', 'ten', '0x10', 'Infinity', 'NaN', '--1']) assert.ok('fault' in parseEntry(text), text);
});

test('thinned dots keep the worst of every bin', () => {
  const dots = Array.from({ length: 1000 }, (_, i) => ({ x: i * 0.7, y: 0, miss: i === 517 ? 9 : (i * 7919) % 13 / 13 }));
  const kept = thin(dots, 11);
  assert.ok(kept.length <= Math.ceil(700 / 11) + 1);
  assert.ok(kept.some((d) => d.miss === 9));
  for (const dot of dots) assert.ok(kept.some((k) => Math.floor(k.x / 11) === Math.floor(dot.x / 11) && k.miss >= dot.miss));
});

test('a remedy falls into steps, a message into a clause', () => {
  assert.deepEqual(remedySteps('Switch it off. Set the input to 2.5 V, e.g. by hand. Take it again.').length >= 3, true);
  assert.equal(lowerFirst('The input gain was riding.'), 'the input gain was riding.');
  assert.equal(lowerFirst('DC on the input.'), 'DC on the input.');
  assert.equal(lowerFirst('Q_ms is too low.'), 'Q_ms is too low.');
});
