// What is shown large over the board: an answer, a note, and how far the last hearing is.
// Takes words; shows them until they were read, something else is said, Escape is pressed or they are touched.
import { el, fill } from './dom.js';
import { clock } from './words.js';

const ANSWER_MS = 8000;
const NOTE_MS = 5000;
/** What was still being said when the answer came must not take it away. */
const LEAST_MS = 1500;

/** Makes the place for it. */
export function make() {
  const element = el('div', { class: 'over', hidden: true, role: 'status', on: { click: () => over.close() } });
  const note = el('div', { class: 'note', hidden: true, role: 'status', on: { click: () => over.close() } });
  let timers = {};
  let shownAt = 0;
  let final = null;
  const show = (place, ms, ...content) => {
    clearTimeout(timers[place.className]);
    fill(place, content);
    place.hidden = false;
    shownAt = Date.now();
    if (ms) timers[place.className] = setTimeout(() => (place.hidden = true), ms);
  };
  const over = {
    element,
    /** The place for notes. */
    aside: note,
    answer(title, lines) {
      if (final) return;
      note.hidden = true;
      const list = el(
        'ul',
        { class: 'plain' },
        lines.map((line) => el('li', {}, line)),
      );
      element.classList.remove('dense');
      show(element, ANSWER_MS, el('h2', {}, title), list);
      element.classList.toggle('dense', isOverfull(element));
      shorten(element, list, lines);
    },
    note(title, words, doubt = false) {
      if (final) return;
      show(
        note,
        NOTE_MS,
        el('p', {}, el('span', { 'aria-hidden': 'true' }, doubt ? '? ' : '✔ '), el('strong', {}, `${title}: `), words),
      );
    },
    /** Something is being said. */
    words() {
      if (!final && Date.now() - shownAt > LEAST_MS) over.close();
    },
    close() {
      if (final) return;
      element.hidden = true;
      note.hidden = true;
    },
    final(done, all) {
      note.hidden = true;
      if (!final) {
        final = { bar: el('progress', { max: 1, 'aria-label': 'Heard again' }), words: el('p', {}) };
        show(
          element,
          0,
          el('h2', {}, 'Listening to all of it again'),
          final.bar,
          final.words,
          el('p', {}, 'The recording is safe on the disk. The draft opens by itself.'),
        );
        element.classList.add('final');
      }
      if (all > 0) final.bar.value = done / all;
      final.words.textContent = all > 0 ? `${clock(done)} of ${clock(all)}` : 'It begins …';
    },
  };
  return over;
}

const isOverfull = (element) =>
  element.scrollHeight > element.clientHeight || element.scrollWidth > element.clientWidth;

// What does not fit is counted: nobody scrolls from two metres away.
function shorten(element, list, lines) {
  const shown = [...list.children];
  while (shown.length > 1 && isOverfull(element)) {
    shown.pop().remove();
    list.querySelector('.more')?.remove();
    list.append(el('li', { class: 'more' }, `and ${lines.length - shown.length} more`));
  }
}
