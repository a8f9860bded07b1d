// What is said about trouble with the sound: what is, then what to do.
import type { AudioProblemCode, ProblemDetail } from '../audio/problems';

export interface ProblemWords {
  what: string;
  remedy: string;
}

const named = (detail: ProblemDetail) => (detail.label ? `“${detail.label}”` : 'The sound input');
const kilohertz = (detail: ProblemDetail) => (detail.rateHz ? `${(detail.rateHz / 1000).toFixed(1)} kHz` : 'a low rate');

const SENTENCES: Record<AudioProblemCode, (detail: ProblemDetail) => ProblemWords> = {
  permission_denied: () => ({
    what: 'The browser does not let this page use the sound input.',
    remedy:
      'Allow the microphone for this page: press the sign left of the address, set it to “allow”, then try again. If it stays closed, allow the browser itself in the privacy settings of the system.',
  }),
  not_secure: () => ({
    what: 'The sound input is closed to this page, because the page did not come over a secure connection.',
    remedy: 'Open the page by https, or from this very computer as localhost. A recording can be read here all the same.',
  }),
  not_supported: () => ({
    what: 'This browser cannot record the way this page needs it.',
    remedy: 'Use a current browser. A recording made elsewhere can be read here all the same.',
  }),
  no_device: () => ({
    what: 'No sound input was found.',
    remedy: 'Plug in the microphone, the cable or the interface, then try again. Some sockets show only with a plug in them.',
  }),
  device_busy: (detail) => ({
    what: `${named(detail)} is in use, or does not answer.`,
    remedy: 'Close other programs and pages that record, unplug the device and plug it in again, then try again.',
  }),
  device_lost: (detail) => ({
    what: `${named(detail)} is gone. The running take is lost; every finished one is kept.`,
    remedy: 'Plug it in again or choose another input, then take this one again.',
  }),
  device_changed: () => ({
    what: 'Sound devices came or went during the take, so it does not count. Every finished take is kept.',
    remedy: 'Leave the plugs alone while it runs, check which input is chosen, then take this one again.',
  }),
  output_lost: () => ({
    what: 'The chosen sound output is not there.',
    remedy: 'Plug it in again, or choose another output, then try again.',
  }),
  mono_only: (detail) => ({
    what: `${named(detail)} gives one channel only; this check needs two.`,
    remedy: 'Use a stereo line input or an interface with two inputs. The knock check needs only one channel.',
  }),
  low_rate: (detail) => ({
    what: `${named(detail)} runs at ${kilohertz(detail)}. That is the rate of a wireless headset, too low and too altered to measure with.`,
    remedy: 'Use an input with a cable, and choose it above.',
  }),
  processing_on: (detail) => ({
    what: `The browser keeps altering the input${detail.stages?.length ? ` (${detail.stages.join(', ')})` : ''}. Figures from it would be wrong.`,
    remedy: 'Switch off sound effects for this input in the settings of the system, or use another browser or another input.',
  }),
  no_samples: (detail) => ({
    what: `${named(detail)} is open, but nothing arrives from it.`,
    remedy: 'Unplug it and plug it in again, or choose another input, then try again.',
  }),
  suspended: () => ({
    what: 'The browser holds the sound of this page back.',
    remedy: 'Press the button again; leave the page in front while it measures.',
  }),
  interrupted: () => ({
    what: 'The system took the sound away: a call, an alarm or the screen lock. This take does not count; every finished one is kept.',
    remedy: 'End the call, keep the screen on, then take this one again.',
  }),
  stalled: () => ({
    what: 'The sound stood still for a while. This take does not count; every finished one is kept.',
    remedy: 'Close other pages and programs that keep the computer busy, then take this one again.',
  }),
  samples_lost: () => ({
    what: 'Samples were lost during the take, so it does not count. Every finished take is kept.',
    remedy: 'Close other pages and programs that keep the computer busy, then take this one again.',
  }),
  muted: (detail) => ({
    what: `${named(detail)} was muted during the take, so it does not count. Every finished take is kept.`,
    remedy: 'Unmute it: a key, a switch at the plug, or the settings of the system. Then take this one again.',
  }),
  page_hidden: () => ({
    what: 'The page was out of sight during the take, and browsers slow such pages down. This take does not count; every finished one is kept.',
    remedy: 'Leave the page in front until the take is done, then take this one again.',
  }),
  second_tab: () => ({
    what: 'Another tab or window of this page has the sound open.',
    remedy: 'Close the other one, or go on there.',
  }),
  stopped: () => ({
    what: 'Stopped. This take does not count; every finished one is kept.',
    remedy: 'Take it again when you are ready.',
  }),
};

export function audioProblemWords(code: AudioProblemCode, detail: ProblemDetail = {}): ProblemWords {
  return SENTENCES[code](detail);
}

/** Milder things that the page shows beside an open input, by name of the caution in `SessionFacts.cautions`. */
export const AUDIO_CAUTION_WORDS = {
  processing_unknown: 'This browser does not tell whether it alters the input. Compare two strengths of knock or tone before you trust small differences.',
  bluetooth: 'This looks like a wireless device. Use a cable: wireless sound is compressed and loses samples.',
  phone_microphone: 'The microphone of a phone or tablet: figures from it are indicative, as its gain may move by itself.',
  digital_gain: 'The browser multiplies this input by a gain of its own. Set the input level in the system to its plain value.',
  unequal_rates: 'Input and output run at different rates, so the browser converts one into the other and the highest frequencies are lost. Set both to the same rate in the settings of the system.',
  output_follows_system: 'This browser plays through the output that the system has chosen. Choose it there.',
} as const;

export type AudioCaution = keyof typeof AUDIO_CAUTION_WORDS;

/** How the read-back of a processing stage is put into words. */
export const STAGE_WORDS = {
  names: {
    echo_cancellation: 'echo cancellation',
    noise_suppression: 'noise suppression',
    auto_gain_control: 'automatic gain',
    voice_isolation: 'voice isolation',
  },
  states: { off: 'off', on: 'on', unknown: 'not told by this browser' },
} as const;
