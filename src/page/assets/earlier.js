// Signed records of the same infant beside this one.
// Takes what the program lined up; fills a place with a table, a switch for what changed, and growth. Leaves alone what a change
// means. A change is told by a sign and a word, not by its tone.
import * as api from './api.js';
import { computedLabel } from './cited.js';
import { el, fill } from './dom.js';
import { capital, day } from './words.js';

/** Fills a place; `kept` remembers the switch, and what was told last: that stands until it is told anew. */
export async function show(place, record, kept) {
  if (kept.serial) draw(place, kept.serial, record, kept);
  const told = await api.serial(record.id);
  if (JSON.stringify(told) === JSON.stringify(kept.serial)) return;
  kept.serial = told;
  draw(place, told, record, kept);
}

function draw(place, told, record, kept) {
  if (told.examinations.length < 2) {
    fill(place, el('p', {}, 'No earlier signed record has the same words for its infant.'));
    return;
  }
  const table = tableOf(told, record);
  const narrow = el('input', { type: 'checkbox', checked: kept.changedOnly });
  const apply = () => {
    kept.changedOnly = narrow.checked;
    table.classList.toggle('changed-only', narrow.checked);
  };
  narrow.addEventListener('change', apply);
  apply();
  const changes = told.rows.filter((row) => row.changed).length;
  const words = `Only what changed, or was told in one of the last two alone (${changes} of ${told.rows.length})`;
  fill(
    place,
    growth(told),
    el('label', { class: 'tick' }, narrow, el('span', {}, words)),
    el('div', { class: 'wide', tabindex: '0', role: 'region', 'aria-label': 'Examinations side by side' }, table),
  );
}

function growth({ growth: all }) {
  if (all.length === 0) return null;
  const lines = all.map(({ name, from, to, words }) =>
    el('li', {}, el('strong', {}, `${capital(name)}: ${words}`), `, ${day(from)} to ${day(to)}`),
  );
  const ways = [...new Set(all.map(({ how }) => how))].map((how) => el('p', { class: 'quiet' }, `${capital(how)}.`));
  return [el('h3', {}, 'Growth ', computedLabel()), el('ul', {}, lines), ways];
}

function tableOf({ examinations, rows }, record) {
  const regions = Map.groupBy(rows, (row) => row.region);
  return el(
    'table',
    { class: 'side-by-side' },
    el('caption', { class: 'unseen' }, 'Examinations of this infant, oldest first'),
    el(
      'thead',
      {},
      el(
        'tr',
        {},
        el('th', { scope: 'col' }, 'Finding'),
        examinations.map((one) => head(one, record)),
      ),
    ),
    [...regions].map(([name, of]) => body(name, of, examinations.length)),
  );
}

function head({ id, when, age }, record) {
  const words = day(when) || 'day not known';
  return el(
    'th',
    { scope: 'col' },
    id === record.id ? `${words}, this one` : el('a', { href: `#/${id}` }, words),
    el('span', { class: 'quiet' }, age || 'age not said'),
  );
}

function body(region, rows, columns) {
  const none = rows.every((row) => !row.changed);
  return el(
    'tbody',
    { class: none ? 'same' : null },
    el('tr', {}, el('th', { scope: 'rowgroup', class: 'region-name', colspan: String(columns + 1) }, capital(region))),
    rows.map(rowOf),
  );
}

// What nobody mentioned has not changed by that.
function changeWords({ values }) {
  return values.slice(-2).includes(null) ? 'told in one alone' : 'changed';
}

function rowOf(row) {
  const last = row.values.length - 1;
  return el(
    'tr',
    { class: row.changed ? 'changed' : 'same' },
    el('th', { scope: 'row' }, capital(row.name), row.side ? ` ${row.side}` : null),
    row.values.map((value, at) =>
      el(
        'td',
        { class: value === null ? 'none' : null },
        value ?? 'not mentioned',
        row.changed && at === last ? el('span', { class: 'change-mark' }, ` ≠ ${changeWords(row)}`) : null,
      ),
    ),
  );
}
