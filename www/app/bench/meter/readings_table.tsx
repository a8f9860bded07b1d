// What the meter read so far, each reading correctable and deletable.
import { useState } from 'preact/hooks';
import type { Answer, MeterReading } from '../../core/types.gen';
import { Button } from '../../ui/controls';
import { NumberEntry, startNumber, type NumberSpec, type NumberState } from '../../ui/number_entry';
import { meterWords as w } from '../../words/meter';

export type Change = (answers: Record<string, Answer>) => void;

export function ReadingsTable({ readings, onChange }: { readings: MeterReading[]; onChange: Change }) {
  const [at, setAt] = useState<number>();
  const second = readings[0]?.resistor_v === undefined ? 'both' : 'resistor';
  const change: Change = (answers) => {
    setAt(undefined);
    onChange(answers);
  };
  return (
    <section>
      <h2>{w.readings}</h2>
      <div class="table-scroll" tabIndex={0} role="region" aria-label={w.readings}>
        <table class="table">
          <thead>
            <tr>
              <th scope="col">{w.number}</th>
              <th scope="col" class="n">Hz</th>
              <th scope="col" class="n">{w.columns(w.driver, 'V')}</th>
              <th scope="col" class="n">{w.columns(w.second[second], 'V')}</th>
              <th scope="col">{w.change}</th>
            </tr>
          </thead>
          <tbody>
            {readings.map((reading, i) => (
              <tr key={i}>
                <th scope="row">{i + 1}</th>
                <td class="n">{reading.frequency_hz}</td>
                <td class="n">{reading.driver_v}</td>
                <td class="n">{reading.resistor_v ?? reading.source_v}</td>
                <td>
                  <button type="button" class="text-button" aria-label={w.correctNamed(i + 1)} onClick={() => setAt(i)}>
                    {w.correct}
                  </button>{' '}
                  <button type="button" class="text-button" aria-label={w.removeNamed(i + 1)} onClick={() => change({ number: i + 1, deleted: true })}>
                    {w.remove}
                  </button>
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      </div>
      {at !== undefined && readings[at] && <Correct key={at} number={at + 1} reading={readings[at]} onKeep={change} onLeave={() => setAt(undefined)} />}
      <p class="note">{w.undoHelp}</p>
    </section>
  );
}

function Correct({ number, reading, onKeep, onLeave }: { number: number; reading: MeterReading; onKeep: Change; onLeave: () => void }) {
  const secondId = reading.resistor_v === undefined ? 'source_v' : 'resistor_v';
  const volts = (label: string): NumberSpec => ({ label, unit: 'V', low: 1e-6, high: 1000 });
  const specs: Record<string, NumberSpec> = {
    frequency_hz: { label: w.frequency, unit: 'Hz', low: 0.5, high: 1e5 },
    driver_v: volts(w.driver),
    [secondId]: volts(secondId === 'resistor_v' ? w.second.resistor : w.second.both),
  };
  const was = reading as unknown as Record<string, number>;
  const [numbers, setNumbers] = useState<Record<string, NumberState>>(() => Object.fromEntries(Object.entries(specs).map(([id, spec]) => [id, startNumber(spec, was[id])])));
  const [insist, setInsist] = useState(false);
  const keep = () => {
    setInsist(true);
    if (Object.values(numbers).some((n) => n.faulty)) return;
    onKeep({ number, ...Object.fromEntries(Object.entries(numbers).map(([id, n]) => [id, n.value as number])) });
  };
  return (
    <fieldset>
      <legend>{w.correctNamed(number)}</legend>
      <div class="fields">
        {Object.entries(specs).map(([id, spec]) => (
          <NumberEntry key={id} spec={spec} insist={insist} state={numbers[id] ?? startNumber(spec, undefined)} onState={(state) => setNumbers({ ...numbers, [id]: state })} />
        ))}
      </div>
      <div class="buttons two">
        <Button kind="plain" onPress={keep}>
          {w.keep}
        </Button>
        <Button kind="quiet" onPress={onLeave}>
          {w.leave}
        </Button>
      </div>
    </fieldset>
  );
}
