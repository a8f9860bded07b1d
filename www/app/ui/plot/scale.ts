// Scales of a plot: a number's place along an axis. Small, because a library's scales bring colours and formats along.
import { tickIncrement, ticks } from 'd3-array';

/** Where a number lies; what it begins and ends with on both sides. */
export interface Scale {
  (value: number): number;
  domain(): number[];
  range(): number[];
  /** Round numbers within the domain, about as many as asked for. */
  ticks(count: number): number[];
}

/** Straight between the points of `domain`, which rise, to those of `range`; beyond its ends the outer piece goes on. */
export function linear(domain: number[], range: number[]): Scale {
  return scale(domain, range, (value) => value);
}

/** The same by the logarithm. */
export function logarithmic(domain: number[], range: number[]): Scale {
  return scale(domain, range, Math.log);
}

function scale(domain: number[], range: number[], by: (value: number) => number): Scale {
  const places = domain.map(by);
  const place = (value: number) => {
    const x = by(value);
    let i = 1;
    while (i < places.length - 1 && x > places[i]!) i++;
    const part = (x - places[i - 1]!) / (places[i]! - places[i - 1]!);
    return range[i - 1]! * (1 - part) + range[i]! * part;
  };
  return Object.assign(place, {
    domain: () => domain,
    range: () => range,
    ticks: (count: number) => ticks(domain[0]!, domain[domain.length - 1]!, count),
  });
}

/** The domain widened to round numbers, for about `count` ticks. */
export function widened([low = 0, high = 1]: number[], count: number): number[] {
  const step = tickIncrement(low, high, count);
  if (!step) return [low, high];
  // A negative increment is one over the step, so that 0.1 need not be written.
  return step > 0 ? [Math.floor(low / step) * step, Math.ceil(high / step) * step] : [Math.ceil(low * step) / step, Math.floor(high * step) / step];
}
