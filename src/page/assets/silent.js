// What was not mentioned, by region.
// Takes the record and the lexicon; gives elements. Each item can be said to be not tested, or left open; nothing is filled in.
import { button, el, unseen } from './dom.js';
import { capital, count } from './words.js';

const NOT_TESTED = 'not-tested';

/** `ask` has `wish(wish)`, `add({item})`, `readOnly`. */
export function silent(record, lexicon, ask) {
  if (record.not_mentioned.length === 0) return null;
  const names = [...new Set(record.not_mentioned.map((item) => item.region))];
  const regions = [
    ...lexicon.regions.filter((name) => names.includes(name)),
    ...names.filter((name) => !lexicon.regions.includes(name)),
  ];
  const found = new Set(record.findings.map((finding) => `${finding.item}|${(finding.now ?? finding).side}`));
  const of = (name) => record.not_mentioned.filter((item) => item.region === name);
  return el(
    'section',
    { class: 'part silent', 'aria-labelledby': 'silent-head' },
    el(
      'h2',
      { id: 'silent-head' },
      'Not mentioned',
      el('span', { class: 'still' }, ` ${count(record.not_mentioned.length, 'item')}`),
    ),
    el(
      'p',
      { class: 'quiet' },
      'Nobody said anything of these. None of them is normal by that. Say “not tested” where it was so, or leave it open.',
    ),
    regions.map((name) => region(name, of(name), lexicon, found, ask)),
  );
}

function region(name, items, lexicon, found, ask) {
  const lines = items.map((item) => line(item, lexicon.byId.get(item.item), found, ask));
  return el(
    'details',
    { data: { keep: `silent-${name}` } },
    el(
      'summary',
      {},
      el('h3', {}, capital(name)),
      el('span', { class: 'quiet' }, ` ${items.map((item) => item.name).join(', ')}`),
    ),
    el('ul', { class: 'plain' }, lines),
  );
}

function line(item, known, found, ask) {
  const spoken = (item.spoken_of ?? []).join(', ');
  const name = el(
    'span',
    { class: 'name' },
    item.name,
    spoken ? el('span', { class: 'quiet' }, ` (spoken of only as ${spoken})`) : null,
  );
  if (ask.readOnly || !known) return el('li', {}, name);
  const can = known.values.some((value) => value.id === NOT_TESTED);
  const sides = known.paired ? ['right', 'left'] : ['none'];
  const offers = sides
    .filter((side) => can && !found.has(`${item.item}|${side}`))
    .map((side) => notTested(item, side, ask));
  const other = button('Add …', () => ask.add({ item: item.item }), { kind: 'small' });
  other.append(unseen(` ${item.name}`));
  return el('li', {}, name, el('span', { class: 'offers' }, offers, other));
}

function notTested(item, side, ask) {
  const words = side === 'none' ? 'Not tested' : `${capital(side)} not tested`;
  const made = button(words, () => ask.wish({ kind: 'add', item: item.item, side, value: NOT_TESTED, approx: false }), {
    kind: 'small',
  });
  made.append(unseen(` ${item.name}`));
  return made;
}
