// A number that may be left out; what is no number is not kept, and said.
import { useState } from 'preact/hooks';
import { NumberEntry, startNumber, type NumberSpec } from '../ui/number_entry';

interface Props extends Omit<NumberSpec, 'optional'> {
  value: number | null;
  onValue: (value: number | null) => void;
}

export function MaybeNumber({ value, onValue, ...spec }: Props) {
  const whole: NumberSpec = { ...spec, optional: true };
  const [state, setState] = useState(() => startNumber(whole, value));
  return (
    <NumberEntry
      spec={whole}
      state={state}
      onState={(next) => {
        setState(next);
        if (!next.faulty) onValue(next.value ?? null);
      }}
    />
  );
}
