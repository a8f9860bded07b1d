// Made once: a list of hundreds of rows asks for it in each.
const form = new Intl.DateTimeFormat('en', { dateStyle: 'medium', timeStyle: 'short' });

/** Day and time, in one form everywhere. */
export const when = (ms: number): string => form.format(new Date(ms));
