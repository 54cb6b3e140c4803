// The list of records: search, state, pages.
// Takes nothing but what is searched; fills head, main and foot. Newest first, as the program gives them.
import * as api from './api.js';
import { button, el, fill, kbd } from './dom.js';
import { help } from './help.js';
import { count, moment, stateWords } from './words.js';

const STATES = [
  ['', 'all'],
  ['draft', 'draft'],
  ['in-review', 'in review'],
  ['signed', 'signed'],
  ['amended', 'amended'],
];
const kept = { search: '', state: '', page: 1 };

/** Shows the list; gives `{keys, leave}`. */
export async function show(app) {
  document.title = 'Records – spoken-exam';
  const results = el('div', { class: 'results' });
  const said = el('p', { id: 'said', role: 'status' });
  const search = el('input', {
    type: 'search',
    id: 'search',
    value: kept.search,
    autocomplete: 'off',
    'aria-keyshortcuts': '/',
  });
  const again = () => load(app, results, said, again);
  let wait = 0;
  search.addEventListener('input', () => {
    kept.search = search.value;
    kept.page = 1;
    clearTimeout(wait);
    wait = setTimeout(again, 120);
  });
  fill(
    app.head,
    el(
      'div',
      { class: 'title' },
      el('h1', {}, 'Records'),
      dictateLink(),
      button('Keys', help, { key: '?', kind: 'for-keys' }),
    ),
    el(
      'div',
      { class: 'filters' },
      el('label', { class: 'field' }, el('span', {}, 'Search by file name or what was said of the infant'), search),
      states(again),
    ),
    said,
  );
  fill(
    app.foot,
    el(
      'p',
      {},
      el('strong', {}, 'DRAFT'),
      ' is what software made from speech: not confirmed until a licensed clinician signs it by name and time.',
    ),
  );
  fill(app.main, results);
  app.measure();
  await Promise.all([again(), app.ready]);
  results.querySelector('a')?.focus({ preventScroll: true });
  return { keys: keys(results, search), leave: () => clearTimeout(wait) };
}

function keys(results, search) {
  const move = (by) => () => {
    const links = [...results.querySelectorAll('.records a')];
    const at = links.indexOf(document.activeElement);
    links[Math.min(links.length - 1, Math.max(0, at + by))]?.focus();
  };
  return {
    j: move(1),
    ArrowDown: move(1),
    k: move(-1),
    ArrowUp: move(-1),
    '/': () => search.focus(),
    d: () => (location.hash = '#/dictate'),
    '?': help,
  };
}

function dictateLink() {
  const mark = el('span', { 'aria-hidden': 'true' }, '●');
  return el(
    'a',
    { class: 'to-dictate', href: '#/dictate', 'aria-keyshortcuts': 'd' },
    mark,
    el('span', {}, 'Dictate'),
    kbd('d'),
  );
}

function states(again) {
  const picks = STATES.map(([state, words]) =>
    el(
      'label',
      { class: 'chip' },
      el('input', {
        type: 'radio',
        name: 'state',
        value: state,
        checked: kept.state === state,
        on: {
          change: () => {
            kept.state = state;
            kept.page = 1;
            again();
          },
        },
      }),
      el('span', {}, words),
    ),
  );
  return el('fieldset', { class: 'chips' }, el('legend', {}, 'State'), picks);
}

let asked = 0;

async function load(app, results, said, again) {
  asked += 1;
  const mine = asked;
  try {
    const found = await api.records(kept);
    // What was typed meanwhile asks for itself.
    if (mine !== asked) return;
    said.textContent = `${count(found.total, 'record')}${kept.search || kept.state ? ' found' : ''}`;
    fill(
      results,
      found.records.length > 0 ? el('ul', { class: 'records plain' }, found.records.map(line)) : empty(),
      pages(found, again),
    );
  } catch (error) {
    app.trouble(error.message);
  }
}

function empty() {
  const words =
    kept.search || kept.state
      ? 'Nothing fits. Words are those of the file name, or what was said of the infant.'
      : 'There are no records yet. `spoken-exam draft visit.m4a --keep` makes one.';
  return el('p', { class: 'quiet' }, words);
}

function line(record) {
  const infant = record.infant.map((known) => known.words).join(' · ');
  const signed = record.state === 'signed' || record.state === 'amended';
  return el(
    'li',
    {},
    el(
      'a',
      { href: `#/${record.id}` },
      el(
        'span',
        { class: `badge ${signed ? 'signed' : 'draft'}` },
        signed ? stateWords(record.state) : `DRAFT${record.state === 'in-review' ? ', in review' : ''}`,
      ),
      el('strong', { class: 'file' }, record.file_name),
      el('span', { class: 'when' }, moment(record.created)),
      el('span', { class: 'infant-words' }, infant || 'nothing said of the infant'),
      el('span', { class: 'open' }, open(record)),
    ),
  );
}

function open(record) {
  if (record.damaged) return 'damaged: see `spoken-exam store check`';
  if (record.decided_since > 0) return `${count(record.decided_since, 'decision')} not signed`;
  if (record.undecided === 0) return 'all decided';
  const eye = record.eye > 0 ? `, ${record.eye} for your eye` : '';
  return `${record.undecided} undecided${eye}`;
}

function pages(found, again) {
  if (found.pages <= 1) return null;
  const go = (by) => () => {
    kept.page += by;
    again();
  };
  return el(
    'nav',
    { class: 'pages', 'aria-label': 'Pages' },
    button('Newer', go(-1), { disabled: kept.page <= 1 }),
    el('span', {}, `Page ${found.page} of ${found.pages}`),
    button('Older', go(1), { disabled: kept.page >= found.pages }),
  );
}
