// What is known of an open input: shown to the person, kept with every take.
import type { AudioCaution } from '../words/audio-problems';
import { STAGE_WORDS } from '../words/audio-problems';
import { readBack, stagesIn, type ProcessingStages } from './constraints';
import { AudioProblem } from './problems';

/** At or below this an input is that of a wireless headset in hands-free mode. */
export const LOWEST_RATE_HZ = 24_000;

export interface SessionFacts {
  inputLabel: string;
  inputDeviceId: string;
  /** Rate of the context, which is that of the samples. It proves nothing about the device. */
  rateHz: number;
  /** Rate of the device as told by the browser; some tell none. */
  deviceRateHz: number | undefined;
  /** Channels that arrive, or fewer where the browser tells fewer: a single one comes doubled in some engines. */
  channels: number;
  processing: ProcessingStages;
  outputChosen: boolean;
  baseLatencyS: number | undefined;
  cautions: AudioCaution[];
  userAgent: string;
}

/** What the facts are made from. */
export interface Observed {
  label: string;
  settings: object;
  contextRateHz: number;
  channels: number;
  outputChosen: boolean;
  baseLatencyS: number | undefined;
  userAgent: string;
  touchOnly: boolean;
}

export function factsOf(seen: Observed): SessionFacts {
  const settings = seen.settings as { deviceId?: string; sampleRate?: number; volume?: number; channelCount?: number };
  const processing = readBack(settings);
  return {
    inputLabel: seen.label,
    inputDeviceId: settings.deviceId ?? '',
    rateHz: seen.contextRateHz,
    deviceRateHz: settings.sampleRate,
    // A count of two proves nothing, as mixed inputs are told as two as well; whether both differ shows in the take.
    channels: Math.min(seen.channels, settings.channelCount || seen.channels),
    processing,
    outputChosen: seen.outputChosen,
    baseLatencyS: seen.baseLatencyS,
    cautions: cautionsOf(seen, processing, settings),
    userAgent: seen.userAgent,
  };
}

function cautionsOf(seen: Observed, processing: ProcessingStages, { volume, sampleRate }: { volume?: number; sampleRate?: number }): AudioCaution[] {
  const found: AudioCaution[] = [];
  // Voice isolation exists in one engine only: its silence elsewhere means that there is none.
  const untold = stagesIn(processing, 'unknown').filter((stage) => stage !== 'voice_isolation');
  if (untold.length > 0) found.push('processing_unknown');
  if (/bluetooth|hands-?free|\bbuds\b|\bbt\b|wireless/i.test(seen.label)) found.push('bluetooth');
  // A phone's own microphone is meant; an interface plugged into a phone tells its name.
  if (seen.touchOnly && !/usb|interface|line/i.test(seen.label)) found.push('phone_microphone');
  if (volume !== undefined && Math.abs(volume - 1) > 1e-3) found.push('digital_gain');
  // An engine that does not tell the device's rate tells that of the context, so this may stay unseen, never be wrong.
  if (sampleRate !== undefined && sampleRate !== seen.contextRateHz) found.push('unequal_rates');
  if (!seen.outputChosen) found.push('output_follows_system');
  return found;
}

/** Refuses an input that cannot measure. */
export function refuseUnfit(facts: SessionFacts, needsChannels: number): void {
  const detail = { label: facts.inputLabel, channels: facts.channels };
  const on = stagesIn(facts.processing, 'on');
  if (on.length > 0) throw new AudioProblem('processing_on', { ...detail, stages: on.map((stage) => STAGE_WORDS.names[stage]) });
  const rateHz = Math.min(facts.rateHz, facts.deviceRateHz ?? facts.rateHz);
  if (rateHz <= LOWEST_RATE_HZ) throw new AudioProblem('low_rate', { ...detail, rateHz });
  if (facts.channels < needsChannels) throw new AudioProblem('mono_only', detail);
}
