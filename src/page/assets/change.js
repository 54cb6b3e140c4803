// The dialogs that state something: change a finding, add one.
// Takes a finding or nothing, the lexicon, and what shall be done with the wish; the wish is sent while the dialog is open, so
// that what is refused can be mended where it was typed.
import { el, fill } from './dom.js';
import { open } from './dialog.js';
import { fields } from './fields.js';
import { capital, findingWords, nameWords } from './words.js';

/** Asks what a finding is instead; `send(wish)` sends it. `start` is shown in place of what stands. */
export function change(finding, lexicon, send, start = null) {
  const item = lexicon.byId.get(finding.item);
  if (!item) throw new Error(`The lexicon has no ${finding.name} any more; reject the finding, or leave it as it is.`);
  const form = fields(item, start ?? finding.now ?? finding);
  const said = finding.evidence ? el('blockquote', {}, finding.evidence.quote) : null;
  return open({
    title: `Change: ${nameWords(finding)}`,
    content: [el('p', { class: 'quiet' }, `Now ${findingWords(finding)}`), said, form.content],
    go: 'Change',
    done: () => sent(send, item, { kind: 'change', finding: finding.id, ...form.read() }),
  });
}

/** Asks what shall be added. `item` and `side` may be known already. */
export function add(lexicon, send, { item = null, side = null } = {}) {
  let form = null;
  const place = el('div', { 'aria-live': 'polite' });
  const show = (id) => {
    const known = lexicon.byId.get(id);
    form = known ? { item: known, ...fields(known, side ? { side } : null) } : null;
    fill(place, form ? [el('h3', {}, capital(known.name)), form.content] : null);
  };
  const content = item ? [place] : [chooser(lexicon, show), place];
  if (item) show(item);
  return open({
    title: 'Add a finding',
    content,
    go: 'Add',
    done: () => {
      if (!form) throw new Error('Choose an item first.');
      return sent(send, form.item, { kind: 'add', item: form.item.id, ...form.read() });
    },
  });
}

// The program names a refused value as records write it; whoever typed it knows names, and sees the other choices.
async function sent(send, item, wish) {
  try {
    return await send(wish);
  } catch (error) {
    if (error.body?.error !== 'wrong-value') throw error;
    const number = item.units.length > 0 ? ' Write a number like 34.6, or choose one of the others.' : '';
    throw new Error(`“${wish.value}” is no value of ${item.name}.${number}`);
  }
}

// A search field over a list: typing narrows, arrow down goes into the list, Enter takes the first.
function chooser(lexicon, show) {
  const list = el('select', { size: 7, 'aria-label': 'Items' });
  const search = el('input', { type: 'search', autocomplete: 'off', 'data-first': true });
  const narrow = () => {
    list.hidden = false;
    const words = search.value.toLowerCase().split(/\s+/).filter(Boolean);
    const fits = lexicon.items.filter((item) =>
      words.every((word) => `${item.name} ${item.region}`.toLowerCase().includes(word)),
    );
    fill(
      list,
      fits.map((item) => el('option', { value: item.id }, `${item.name} (${item.region})`)),
    );
  };
  // What was chosen stands in the field; the list comes back when something else is typed.
  const pick = () => {
    show(list.value);
    search.value = list.selectedOptions[0].textContent;
    list.hidden = true;
  };
  const take = () => {
    if (!list.value && list.options.length > 0) list.selectedIndex = 0;
    if (!list.value) return;
    pick();
    list.closest('dialog').querySelector('.fields [data-first]')?.focus();
  };
  search.addEventListener('input', narrow);
  search.addEventListener('keydown', (event) => {
    if (event.key === 'ArrowDown' && !list.hidden) {
      event.preventDefault();
      list.focus();
      list.selectedIndex = Math.max(0, list.selectedIndex);
    }
    if (event.key === 'Enter') {
      event.preventDefault();
      take();
    }
  });
  list.addEventListener('keydown', (event) => {
    if (event.key === 'Enter') {
      event.preventDefault();
      take();
    }
  });
  list.addEventListener('click', () => {
    if (list.value) pick();
  });
  narrow();
  return el('div', { class: 'chooser' }, el('label', { class: 'field' }, el('span', {}, 'Item'), search), list);
}
