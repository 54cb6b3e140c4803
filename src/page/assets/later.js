// Parts of a record that are fetched when somebody opens them, so that nobody waits for what they do not read.
// Takes a summary, what stands at once, and how the rest is loaded; gives an element. What was opened stays so when the record is
// drawn anew (`data-keep`), and is loaded anew then.
import { el, fill } from './dom.js';

/** `load(place)` fills its place; what goes wrong is said there. */
export function later({ keep, summary, content = [], load }) {
  const place = el('div', { class: 'later' });
  const made = el('details', { class: 'fold', data: { keep } }, el('summary', {}, summary), content, place);
  made.addEventListener('toggle', () => {
    if (made.open) load(place).catch((error) => fill(place, el('p', { class: 'wrong' }, error.message)));
  });
  return made;
}
