// Watches an open graph: everything that spoils a running take, each with its code. Counters of the browser see little
// of this, so every witness is asked.
import type { Graph } from './graph';
import { listDevices, onDevicesChanged, type Devices } from './devices';
import { problemOfState, type AudioProblemCode } from './problems';

const BEAT_MS = 250;
/** So long may the clock or the samples stand still. */
const STILL_MS = 1500;

export type OnTrouble = (code: AudioProblemCode) => void;

/** Starts watching; answers the function that ends it. `heard` gives the time at which the last samples came. */
export function watchGraph(graph: Graph, heard: () => number, onTrouble: OnTrouble): () => void {
  const ends = [watchPage(onTrouble), watchContext(graph, onTrouble), watchTrack(graph, onTrouble)];
  ends.push(watchClock(graph, heard, onTrouble), watchDevices(graph, onTrouble));
  return () => ends.forEach((end) => end());
}

function listen(target: EventTarget, type: string, listener: EventListener): () => void {
  target.addEventListener(type, listener);
  return () => target.removeEventListener(type, listener);
}

function watchPage(onTrouble: OnTrouble): () => void {
  return listen(document, 'visibilitychange', () => {
    if (document.visibilityState === 'hidden') onTrouble('page_hidden');
  });
}

function watchContext({ context }: Graph, onTrouble: OnTrouble): () => void {
  const state = listen(context, 'statechange', () => {
    const code = problemOfState(context.state);
    if (code) onTrouble(code);
  });
  const error = listen(context, 'error', () => onTrouble('output_lost'));
  return () => (state(), error());
}

function watchTrack({ track }: Graph, onTrouble: OnTrouble): () => void {
  const ended = listen(track, 'ended', () => onTrouble('device_lost'));
  const muted = listen(track, 'mute', () => onTrouble('muted'));
  return () => (ended(), muted());
}

/** After an interruption a context can say "running" with its clock frozen: only the clock itself tells. */
function watchClock({ context }: Graph, heard: () => number, onTrouble: OnTrouble): () => void {
  let lastTime = context.currentTime;
  let movedAt = performance.now();
  let lateBeats = 0;
  const timer = setInterval(() => {
    const now = performance.now();
    if (context.currentTime !== lastTime) movedAt = now;
    lastTime = context.currentTime;
    // One late beat may be this thread's own pause, with the samples still waiting in its queue.
    lateBeats = now - movedAt > STILL_MS || now - heard() > STILL_MS ? lateBeats + 1 : 0;
    if (lateBeats > 1) onTrouble('stalled');
  }, BEAT_MS);
  return () => clearInterval(timer);
}

function watchDevices({ facts }: Graph, onTrouble: OnTrouble): () => void {
  let known: Devices | undefined;
  void listDevices().then((list) => (known ??= list));
  return onDevicesChanged(() => {
    void listDevices().then((list) => {
      const before = known;
      known = list;
      const code = before && changeOf(before, list, facts.inputDeviceId);
      if (code) onTrouble(code);
    });
  });
}

/** Browsers report changes that are none; the lists decide. */
export function changeOf(before: Devices, now: Devices, inputId: string): 'device_lost' | 'device_changed' | undefined {
  const ids = (list: Devices) => [...list.inputs, ...list.outputs].map((d) => d.id);
  const had = before.inputs.some((d) => d.id === inputId);
  if (had && !now.inputs.some((d) => d.id === inputId)) return 'device_lost';
  return ids(before).sort().join() === ids(now).sort().join() ? undefined : 'device_changed';
}
