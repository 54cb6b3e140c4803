// How values, sides, times and counts are written for people.
// Takes values of the record; gives texts. Leaves alone what they mean.

const STATES = { draft: 'draft', 'in-review': 'in review', signed: 'signed', amended: 'amended' };
const KINDS = { confirmed: 'Confirmed', changed: 'Changed', rejected: 'Rejected', added: 'Added by hand' };

export const stateWords = (state) => STATES[state] ?? state;
export const decisionWords = (kind) => KINDS[kind] ?? kind;

/** "left", "right", "side not said", or nothing. */
export function sideWords(side) {
  return { left: 'left', right: 'right', unstated: 'side not said', both: 'both sides' }[side] ?? '';
}

/** "about 90°"; "not found" where nothing stands. */
export function valueWords(stated) {
  if (!stated) return 'rejected';
  return `${stated.approx ? 'about ' : ''}${stated.words}`;
}

/** "ankle left", "ankle, side not said". */
export function nameWords(finding, side = finding.side) {
  const words = sideWords(side);
  if (!words) return finding.name;
  return side === 'left' || side === 'right' ? `${finding.name} ${words}` : `${finding.name}, ${words}`;
}

/** "ankle left: to midline". */
export function findingWords(finding, stated = finding.now) {
  return `${nameWords(finding, (stated ?? finding).side)}: ${valueWords(stated)}`;
}

/** "4 findings", "1 finding". */
export function count(number, one, many = `${one}s`) {
  return `${number} ${number === 1 ? one : many}`;
}

/** A day and a time in the reader's zone. */
export function moment(ms) {
  return new Date(ms).toLocaleString('en-GB', { dateStyle: 'medium', timeStyle: 'short' });
}

/** A day, or a day and a time, as somebody's own clock had it: no zone is put in. Other words stay as they are. */
export function day(words) {
  const parts = /^(\d{4})-(\d\d)-(\d\d)(?:T(\d\d):(\d\d))?/.exec(words ?? '');
  if (!parts) return words ?? '';
  const [year, month, date, hour, minute] = parts.slice(1).map(Number);
  const style = parts[4] ? { dateStyle: 'medium', timeStyle: 'short' } : { dateStyle: 'medium' };
  return new Date(year, month - 1, date, hour || 0, minute || 0).toLocaleString('en-GB', style);
}

/** A place in a recording: 1:07. */
export function clock(ms) {
  const seconds = Math.floor(ms / 1000);
  return `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, '0')}`;
}

/** The first letter large. */
export function capital(words) {
  return words.charAt(0).toUpperCase() + words.slice(1);
}
