// The screens that a first check by a live input does not need; they come as one file of their own.
export { BenchScreen } from '../job/bench_screen';
export { PracticeScreen } from './practice_screen';
export { RecordingScreen } from './recording_screen';
