// Times as the reader's own clock shows them.
export const localTime = (when: string | number): string =>
  new Date(when).toLocaleString(undefined, { dateStyle: 'medium', timeStyle: 'short' });
