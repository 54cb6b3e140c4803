// What was reckoned of single findings: what is usual at that age, the state it was told in, its size for age, the other side.
// Takes a record; gives short words for rows and elements for the panel, all of it called computed. Leaves alone the findings' own
// text: what was said and what was reckoned never stand in one sentence.
import { computedLabel, source, sources } from './cited.js';
import { el } from './dom.js';
import { capital } from './words.js';

const lookedUp = new WeakMap();

/** Everything that was reckoned, by finding and by item; made once for each answer of the program. */
function known(record) {
  const { computed } = record;
  if (!lookedUp.has(computed)) {
    const by = (list, key) => new Map(list.map((one) => [one[key], one]));
    lookedUp.set(computed, {
      usual: by(computed.usual, 'finding'),
      states: by(computed.states, 'finding'),
      sizes: by(computed.sizes, 'finding'),
      differences: by(computed.differences, 'item'),
      oneSided: by(computed.one_sided, 'item'),
    });
  }
  return lookedUp.get(computed);
}

/** Short words beside a finding's row: what a reader would otherwise not know to look for. */
export function marks(record, finding) {
  const { usual, states } = known(record);
  const [expected, state] = [usual.get(finding.id), states.get(finding.id)];
  const words = [];
  if (expected?.fits === false) words.push(`outside what is usual at ${expected.at}`);
  if (state?.poorly) words.push(`state then: ${state.state}`);
  return words;
}

/** By how much left and right of an item differ, where that is a number. */
export function apart(record, item) {
  return known(record).differences.get(item)?.by ?? null;
}

/** What belongs into the panel of a finding; nothing where nothing was reckoned of it. */
export function panel(record, finding) {
  const { usual, states, sizes, differences, oneSided } = known(record);
  const parts = [
    expected(usual.get(finding.id)),
    state(states.get(finding.id)),
    sizes.has(finding.id) ? el('div', {}, size(sizes.get(finding.id))) : null,
    finding.now ? sides(differences.get(finding.item), oneSided.get(finding.item)) : null,
  ].filter(Boolean);
  if (parts.length === 0) return null;
  return el('div', { class: 'reckoned' }, el('h3', {}, computedLabel(), ' nobody said this'), parts);
}

const FITS = { true: 'This is within it.', false: 'This is outside it.', null: 'Whether this fits cannot be told.' };

function expected(usual) {
  if (!usual) return null;
  return el(
    'div',
    {},
    el('p', {}, el('strong', {}, `Usual at ${usual.at}: `), `${usual.expected}. ${FITS[usual.fits]}`),
    usual.note ? el('p', {}, `${capital(usual.note)}.`) : null,
    sources([usual.cited]),
  );
}

function state(at) {
  if (!at) return null;
  const words = at.state
    ? `${at.state}${at.poorly ? ', in which this is hard to read' : ''}.`
    : 'none was told before it.';
  return el('div', {}, el('p', {}, el('strong', {}, 'State then: '), words), source(at.source));
}

function sides(difference, one) {
  if (difference) return el('div', {}, el('p', {}, el('strong', {}, 'Sides: '), `${differenceWords(difference)}.`));
  if (one) return el('div', {}, el('p', {}, el('strong', {}, 'Sides: '), `${oneSidedWords(one)}.`));
  return null;
}

/** "right 90°, left 150°: 60° apart". */
export function differenceWords({ left, right, by }) {
  return `right ${right.words}, left ${left.words}${by ? `: ${by} apart` : ''}`;
}

/** "left alone; right: not mentioned". */
export function oneSidedWords({ side, other }) {
  return `${side} alone; ${side === 'left' ? 'right' : 'left'}: ${other}`;
}

/** "z −0.05, 48th centile", or why there is no figure. */
export function figureWords(size) {
  if (size.z === null) return `no figure: ${size.none}`;
  return `z ${signed(size.z)}, ${size.centile_words} centile`;
}

/** A z-score with two decimals, and a minus that is read as one. */
function signed(z) {
  return z.toFixed(2).replace('-', '−');
}

/** A size for age with everything that it rests on: standard, sex and age used, why, notes. */
export function size(of) {
  const rests = of.z === null ? null : el('p', {}, `${of.standard}: ${of.used}`);
  return [
    el('p', {}, el('strong', {}, figureWords(of))),
    rests,
    of.why ? el('p', { class: 'quiet' }, capital(of.why)) : null,
    of.notes.length > 0
      ? el(
          'ul',
          { class: 'quiet' },
          of.notes.map((note) => el('li', {}, note)),
        )
      : null,
  ];
}
