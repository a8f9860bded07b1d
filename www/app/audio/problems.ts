// Everything that can go wrong with the sound, by code. The sentences stand in ../words/audio-problems.ts.

export const AUDIO_PROBLEM_CODES = [
  'permission_denied',
  'not_secure',
  'not_supported',
  'no_device',
  'device_busy',
  'device_lost',
  'device_changed',
  'output_lost',
  'mono_only',
  'low_rate',
  'processing_on',
  'no_samples',
  'suspended',
  'interrupted',
  'stalled',
  'samples_lost',
  'muted',
  'page_hidden',
  'second_tab',
  'stopped',
] as const;

export type AudioProblemCode = (typeof AUDIO_PROBLEM_CODES)[number];

/** Numbers and names that belong into the sentence of a problem. */
export interface ProblemDetail {
  label?: string;
  rateHz?: number;
  channels?: number;
  stages?: string[];
}

export class AudioProblem extends Error {
  readonly code: AudioProblemCode;
  readonly detail: ProblemDetail;
  constructor(code: AudioProblemCode, detail: ProblemDetail = {}) {
    super(code);
    this.name = 'AudioProblem';
    this.code = code;
    this.detail = detail;
  }
}

/**
 * What a refused or failed `getUserMedia` means. `chosen`: a certain device was asked for, so that "not found" means that
 * this one is gone, not that there is none.
 */
export function problemOfCapture(error: unknown, chosen: boolean): AudioProblem {
  if (error instanceof AudioProblem) return error;
  const name = (error as { name?: string } | null)?.name ?? '';
  switch (name) {
    case 'NotAllowedError':
    case 'PermissionDeniedError':
      return new AudioProblem('permission_denied');
    case 'SecurityError':
      return new AudioProblem('not_secure');
    case 'NotFoundError':
    case 'OverconstrainedError':
      return new AudioProblem(chosen ? 'device_lost' : 'no_device');
    case 'NotReadableError':
    case 'AbortError':
      return new AudioProblem('device_busy');
    default:
      return new AudioProblem('not_supported');
  }
}

/** The problem that a context in this state stands for, or none where it runs. */
export function problemOfState(state: string): AudioProblemCode | undefined {
  if (state === 'running') return undefined;
  return state === 'suspended' ? 'suspended' : 'interrupted';
}
