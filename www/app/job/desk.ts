// The screens around jobs; they come as one file of their own.
export { makeDemo } from './demo';
export { FilingScreen } from './filing_screen';
export { JobScreens } from './job_screens';
export { MatchScreen } from '../match/match_screen';
