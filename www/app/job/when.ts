/** Day and time, in one form everywhere. */
export function when(ms: number): string {
  return new Intl.DateTimeFormat('en', { dateStyle: 'medium', timeStyle: 'short' }).format(new Date(ms));
}
