// What is asked of the browser for a measuring input, and what it says it did. Its word is kept as off, on or unknown:
// an engine that does not know a stage says nothing about it.

export type StageState = 'off' | 'on' | 'unknown';

export interface ProcessingStages {
  echo_cancellation: StageState;
  noise_suppression: StageState;
  auto_gain_control: StageState;
  voice_isolation: StageState;
}

/** Echo cancellation stands first: in one engine the defaults of all other stages follow it. */
export function inputConstraints(deviceId?: string): MediaStreamConstraints {
  const audio = {
    echoCancellation: false,
    noiseSuppression: false,
    autoGainControl: false,
    voiceIsolation: false,
    channelCount: { ideal: 2 },
    ...(deviceId ? { deviceId: { exact: deviceId } } : {}),
  };
  return { audio: audio as MediaTrackConstraints, video: false };
}

/** Newer engines answer some stages with a word ("all", "none") in place of true and false. */
function stateOf(value: unknown): StageState {
  if (value === false || value === 'none') return 'off';
  if (value === true || (typeof value === 'string' && value !== '')) return 'on';
  return 'unknown';
}

export function readBack(settings: object): ProcessingStages {
  const told = settings as Record<string, unknown>;
  return {
    echo_cancellation: stateOf(told.echoCancellation),
    noise_suppression: stateOf(told.noiseSuppression),
    auto_gain_control: stateOf(told.autoGainControl),
    voice_isolation: stateOf(told.voiceIsolation),
  };
}

export function stagesIn(stages: ProcessingStages, state: StageState): (keyof ProcessingStages)[] {
  return (Object.keys(stages) as (keyof ProcessingStages)[]).filter((stage) => stages[stage] === state);
}
