// Has the core that the page ships write its files for circuit programs, and prints them as JSON with what they were
// written from: each practice driver with each model of the coil, by way of a whole impedance check.
import { loadCore } from '../../pkg-scripts/core.mjs';

const RATE_HZ = 48_000;
const core = loadCore();
const stimulus = { shape: 'multisine', rate_hz: RATE_HZ, period_s: 1, periods: 5, low_hz: 8, high_hz: 20_000, peak_dbfs: -6, seed: 1 };
const played = core.render(stimulus);

/** The simpler coils follow the bench's drivers up to here only; beyond it the check refuses them, as it should. */
const HIGHEST_HZ = { twelve: 500, six: 2000, five: 2000 };

const takeOf = (driver) => core.practice_play({ driver, fault: 'none', position: { kind: 'driver' }, rate_hz: RATE_HZ, seed: 5 }, played);

function read(take, driver, coil_model, suspension_creep) {
  const band_hz = [10, coil_model === 'semi_inductance' ? 20_000 : HIGHEST_HZ[driver]];
  const setup = { check: 'impedance', series_resistor_ohm: 47, source_channel: 1, driver_channel: 2, coil_model, suspension_creep, band_hz, takes: [{ role: 'driver' }] };
  return core.analyse(JSON.stringify(setup), [take]);
}

function written(take, driver, coil_model, suspension_creep) {
  const { values, curves, outcome } = read(take, driver, coil_model, suspension_creep);
  const names = Object.keys(values);
  const { impedance, fit } = curves;
  const columns = [impedance.frequency_hz, impedance.magnitude_ohm, impedance.phase_deg, impedance.magnitude_standard_uncertainty_ohm];
  const band = [fit.frequency_hz[0], fit.frequency_hz.at(-1)];
  const numbers = names.map((n) => values[n].value);
  const spice = core.files_spice(driver, ['a remark'], names, Float64Array.from(numbers), Float64Array.from(names, (n) => values[n].half_width_95 ?? NaN), ...band);
  return {
    name: `${driver}, ${coil_model}${suspension_creep ? ', creep' : ''}`,
    outcome,
    band,
    values: Object.fromEntries(names.map((n, i) => [n, numbers[i]])),
    fit: lists(fit),
    curve: lists(impedance),
    spice,
    touchstone: Object.fromEntries([1, 8, 50].map((ohm) => [ohm, core.files_touchstone(['a remark'], ...columns, ohm)])),
  };
}

const lists = (columns) => Object.fromEntries(Object.entries(columns).map(([name, values]) => [name, Array.from(values)]));

const out = [];
for (const { id } of core.practice_drivers()) {
  const take = takeOf(id);
  for (const coil of ['inductance', 'semi_inductance', 'two_inductances']) {
    // A plain inductance with creep fits none of them.
    for (const creep of coil === 'inductance' ? [false] : [false, true]) out.push(written(take, id, coil, creep));
  }
}
console.log(JSON.stringify(out));
