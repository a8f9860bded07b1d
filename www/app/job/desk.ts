// The screens around jobs; they come as one file of their own.
export { MatchScreen } from '../match/match_screen';
