// Only one tab has the sound open: two would spoil each other's levels and takes.
import { AudioProblem } from './problems';

const NAME = 'conewright-audio';

/** Answers the function that gives the sound free. Throws `second_tab` where another tab holds it. */
export function holdAudio(): Promise<() => void> {
  return navigator.locks ? holdLock(navigator.locks) : askOthers(NAME);
}

function holdLock(locks: LockManager): Promise<() => void> {
  return new Promise((resolve, reject) => {
    locks
      .request(NAME, { ifAvailable: true }, (lock) => {
        if (!lock) throw new AudioProblem('second_tab');
        return new Promise<void>((release) => resolve(release));
      })
      .catch(reject);
  });
}

/** Browsers without locks: ask the other tabs, and answer for this one from then on. */
export async function askOthers(name: string, patienceMs = 150): Promise<() => void> {
  if (typeof BroadcastChannel === 'undefined') return () => undefined;
  const channel = new BroadcastChannel(name);
  let taken = false;
  channel.onmessage = (event) => {
    if (event.data === 'taken') taken = true;
  };
  channel.postMessage('anyone?');
  await new Promise((done) => setTimeout(done, patienceMs));
  if (taken) {
    channel.close();
    throw new AudioProblem('second_tab');
  }
  channel.onmessage = (event) => {
    if (event.data === 'anyone?') channel.postMessage('taken');
  };
  return () => channel.close();
}
