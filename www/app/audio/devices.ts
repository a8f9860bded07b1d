// Sound inputs and outputs, and how a chosen one is found again.

export interface Device {
  id: string;
  label: string;
}

export interface Devices {
  inputs: Device[];
  outputs: Device[];
  /** False until the person has allowed the input once: names are hidden before. */
  labelled: boolean;
}

/** Entries that only point at another device of the list. */
const POINTERS = new Set(['default', 'communications']);

export async function listDevices(): Promise<Devices> {
  const all = (await navigator.mediaDevices?.enumerateDevices()) ?? [];
  return sortDevices(all);
}

export function sortDevices(all: readonly Pick<MediaDeviceInfo, 'kind' | 'deviceId' | 'label'>[]): Devices {
  const of = (kind: MediaDeviceKind) => {
    const found = all.filter((d) => d.kind === kind).map((d) => ({ id: d.deviceId, label: d.label }));
    const real = found.filter((d) => !POINTERS.has(d.id));
    return real.length > 0 ? real : found;
  };
  const inputs = of('audioinput');
  return { inputs, outputs: of('audiooutput'), labelled: inputs.some((d) => d.label !== '') };
}

/**
 * The device that was chosen before. Ids change when a plug moves or data are cleared, so a label that stands only once
 * in the list counts too; otherwise none, and the person is asked. Never the default one instead.
 */
export function findAgain(list: readonly Device[], kept: Device): Device | undefined {
  const same = list.find((d) => d.id === kept.id && d.id !== '');
  if (same) return same;
  const alike = list.filter((d) => d.label !== '' && d.label === kept.label);
  return alike.length === 1 ? alike[0] : undefined;
}

export function onDevicesChanged(listener: () => void): () => void {
  const devices = navigator.mediaDevices;
  if (!devices?.addEventListener) return () => undefined;
  devices.addEventListener('devicechange', listener);
  return () => devices.removeEventListener('devicechange', listener);
}

/** Whether the page can choose the output; elsewhere the system does. */
export function canChooseOutput(): boolean {
  return typeof AudioContext !== 'undefined' && 'setSinkId' in AudioContext.prototype;
}
