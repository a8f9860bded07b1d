// From the takes of a check to its reading. A live capture, a recording and the practice bench all come through here.
import type { ImpedanceBench, KnockBench, MeterBench, MicrophoneBench, OneChannelBench, PageTake, PairBench, PolarityBench, Reading, TakeUse } from '../core/types.gen';
import { analyse, type BenchOf, type CheckName } from './core_calls';

export type Setup = Record<string, unknown>;

/** The setup of the headless contract without its takes; `fields` are the answers given on the way. */
export function setupOf<C extends CheckName>(check: C, bench: BenchOf[C], fields: Setup): Setup {
  return without({ check, ...ownFields(check, bench), ...fields });
}

/** The same with its takes; no file is named, as the samples come beside it. */
export function setupWithTakes(setup: Setup, takes: TakeUse[]): Setup & { takes: Setup[] } {
  return { ...setup, takes: takes.map(entryOf) };
}

function entryOf(use: TakeUse): Setup {
  return without({ role: use.role, resistor_ohm: use.resistor_ohm, load_ohm: use.load_ohm, added_mass_kg: use.added_mass_kg, box_volume_m3: use.box_volume_m3, set_aside: use.set_aside.length > 0 ? use.set_aside : undefined });
}

function ownFields(check: CheckName, bench: BenchOf[CheckName]): Setup {
  switch (check) {
    case 'impedance':
      return impedanceFields(bench as ImpedanceBench);
    case 'impedance_one_channel':
      return oneChannelFields(bench as OneChannelBench);
    case 'impedance_by_microphone': {
      const { series_resistor_ohm, series_resistor_relative_uncertainty, channel } = bench as MicrophoneBench;
      return { series_resistor_ohm, series_resistor_relative_uncertainty, channel };
    }
    case 'meter':
      return meterFields(bench as MeterBench);
    case 'knock':
      return knockFields(bench as KnockBench);
    case 'pair': {
      const { first_channel, second_channel, input_resistance_ohm } = bench as PairBench;
      return { first_channel, second_channel, input_resistance_ohm };
    }
    case 'polarity': {
      const { method, channel, input_inverts } = bench as PolarityBench;
      return { method, channel, input_inverts };
    }
    case 'loose_joint': {
      const { source_channel, driver_channel } = bench as ImpedanceBench;
      return { source_channel, driver_channel };
    }
  }
}

function oneChannelFields({ series_resistor_ohm, series_resistor_relative_uncertainty, channel }: OneChannelBench): Setup {
  return { series_resistor_ohm, series_resistor_relative_uncertainty, known_resistor_relative_uncertainty: series_resistor_relative_uncertainty, channel };
}

function impedanceFields(bench: ImpedanceBench): Setup {
  const { series_resistor_ohm, series_resistor_relative_uncertainty, source_channel, driver_channel } = bench;
  return { series_resistor_ohm, series_resistor_relative_uncertainty, source_channel, driver_channel };
}

function meterFields({ series_resistor_ohm, series_resistor_relative_uncertainty, accuracy }: MeterBench): Setup {
  return { series_resistor_ohm, series_resistor_relative_uncertainty, accuracy: without({ ...accuracy }) };
}

function knockFields(bench: KnockBench): Setup {
  const { sensor, channel, r_e_ohm, input_resistance_ohm, effective_diameter_m } = bench;
  return { sensor, channel, r_e_ohm, input_resistance_ohm, effective_diameter_m };
}

/** Fields that are not known are left out, never sent as nothing. */
export function without(fields: Setup): Setup {
  return Object.fromEntries(Object.entries(fields).filter(([, value]) => value !== null && value !== undefined));
}

export function readTakes(setup: Setup, uses: TakeUse[], takes: Map<string, PageTake>, signal: AbortSignal): Promise<Reading> {
  const samples = uses.map((use) => {
    const take = takes.get(use.id);
    if (!take) throw new Error(`take ${use.id} is missing`);
    return take;
  });
  return analyse(setupWithTakes(setup, uses), samples, signal);
}
