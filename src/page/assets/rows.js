// Findings as rows: one item a row, the infant's right and left side by side as in the drawing.
// Takes sections of the record and what is selected; gives elements. A finding is a button: choosing it shows its words.
import { computedLabel } from './cited.js';
import { el, unseen } from './dom.js';
import { inRow, kindOf, onSide } from './model.js';
import { capital, count, decisionWords, sideWords, valueWords } from './words.js';

/** All sections. `ask` has `select(id)`, `add({item, side})`, `readOnly`, and what was reckoned: `marks(finding)`, `apart(item)`. */
export function all(parts, record, ask) {
  const ofKind = (rows, kinds) =>
    rows.flatMap((row) => row.findings).filter((finding) => kinds.includes(kindOf(finding))).length;
  const open = (rows) => ofKind(rows, ['eye', 'clear']);
  const eye =
    parts.eye.length > 0
      ? section(
          ofKind(parts.eye, ['eye']) > 0 ? 'Needs your eye' : 'Needed your eye',
          'eye',
          parts.eye,
          ofKind(parts.eye, ['eye']),
          ask,
        )
      : nothing(record);
  const regions = parts.regions.map(({ name, rows }) => region(name, rows, open(rows), ask));
  const added = parts.added.length > 0 ? section('Added by hand', 'added', parts.added, 0, ask) : null;
  const clear =
    regions.length > 0
      ? el(
          'section',
          { 'aria-labelledby': 'clear-head', class: 'part' },
          el('h2', { id: 'clear-head' }, 'Clear, by region'),
          regions,
        )
      : null;
  return [eye, clear, added];
}

function nothing(record) {
  if (record.findings.length === 0) return el('p', { class: 'quiet' }, 'Nothing was found in this narration.');
  return el('p', { class: 'quiet' }, 'Nothing was marked as needing your eye. That is no judgement of what was found.');
}

function section(title, kind, rows, open, ask) {
  const id = `${kind}-head`;
  return el(
    'section',
    { 'aria-labelledby': id, class: `part ${kind}` },
    el('h2', { id }, title, still(open)),
    el(
      'div',
      { class: 'rows' },
      rows.map((row) => rowOf(row, ask)),
    ),
  );
}

function region(name, rows, open, ask) {
  return el(
    'div',
    { class: 'region', data: { region: name } },
    el('h3', { tabindex: '-1' }, capital(name), still(open)),
    el(
      'div',
      { class: 'rows' },
      rows.map((row) => rowOf(row, ask)),
    ),
  );
}

function still(open) {
  return open > 0 ? el('span', { class: 'still' }, ` ${open} undecided`) : null;
}

function rowOf(row, ask) {
  const name = el(
    'p',
    { class: 'name' },
    capital(row.name),
    row.differs ? el('span', { class: 'differs' }, 'left and right differ', byHowMuch(row, ask)) : null,
  );
  const cells = row.paired ? sided(row, ask) : inRow(row).map((finding) => cell(finding, ask));
  const one = row.paired ? '' : ' single';
  return el(
    'div',
    { class: `row${one}`, role: 'group', 'aria-label': row.name, data: { item: row.item, region: row.region } },
    name,
    el('div', { class: 'cells' }, cells),
  );
}

function byHowMuch(row, ask) {
  const by = ask.apart(row.item);
  return by ? [` by ${by} `, computedLabel()] : null;
}

function sided(row, ask) {
  const rest = inRow(row).filter((finding) => !['left', 'right'].includes((finding.now ?? finding).side));
  const unsided = rest.map((finding) => cell(finding, ask));
  if (row.findings.length === rest.length) return unsided;
  const column = (side) => {
    const here = onSide(row, side);
    return el(
      'div',
      { class: `column ${side}` },
      here.length > 0 ? here.map((finding) => cell(finding, ask)) : unsaid(row, side, ask),
    );
  };
  return [...unsided, column('right'), column('left')];
}

// The other side was not said: it is offered, and never filled in.
function unsaid(row, side, ask) {
  const words = [el('span', { class: 'side' }, side), el('span', {}, 'not mentioned')];
  if (ask.readOnly) return el('p', { class: 'unsaid' }, words);
  const act = () => ask.add({ item: row.item, side });
  return el('button', { type: 'button', class: 'unsaid', on: { click: act } }, words, unseen(`, ${row.name}: add`));
}

function cell(finding, ask) {
  const kind = finding.decision?.kind === 'rejected' ? 'rejected' : kindOf(finding);
  const stated = finding.now ?? finding;
  const side = sideWords(stated.side);
  const chosen = ask.selected === finding.id;
  return el(
    'button',
    {
      type: 'button',
      class: `finding ${kind}`,
      id: `f-${finding.id}`,
      data: { id: finding.id },
      tabindex: chosen ? '0' : '-1',
      'aria-current': chosen ? 'true' : null,
      on: { click: () => ask.select(finding.id), focus: () => ask.select(finding.id) },
    },
    el('span', { class: 'top' }, side ? el('span', { class: 'side' }, side) : null, state(finding, kind)),
    unseen(`${finding.name}: `),
    el('span', { class: 'value' }, valueWords(stated)),
    was(finding),
    doubts(finding, kind),
    quote(finding),
    beside(ask.marks(finding)),
  );
}

// Below the words that were said, since nobody said this.
function beside(words) {
  return words.length > 0 ? el('span', { class: 'beside' }, computedLabel(), ` ${words.join(' · ')}`) : null;
}

const SIGNS = { eye: '◉', clear: '○', decided: '✓', rejected: '✕' };

function state(finding, kind) {
  const words =
    kind === 'eye' ? 'needs your eye' : kind === 'clear' ? 'clear' : decisionWords(finding.decision.kind).toLowerCase();
  return el('span', { class: 'state' }, el('span', { 'aria-hidden': 'true' }, SIGNS[kind]), ` ${words}`);
}

function was(finding) {
  if (finding.decision?.kind !== 'changed') return null;
  const side = finding.side === finding.now?.side ? '' : `, ${sideWords(finding.side)}`;
  return el('span', { class: 'was' }, `draft said: ${valueWords(finding)}${side}`);
}

function doubts(finding, kind) {
  const words = finding.reasons.map((reason) => reason.words);
  if (finding.outside) words.push('outside plausible limits');
  if (finding.hedged && !words.includes('hedged')) words.push('hedged');
  if (words.length === 0) return null;
  return el('span', { class: 'doubts' }, kind === 'eye' ? unseen('because: ') : null, [...new Set(words)].join(' · '));
}

function quote(finding) {
  if (!finding.evidence) return null;
  return el('span', { class: 'quote' }, `“${finding.evidence.quote}”`);
}

/** Marks the selected finding, and others that belong with it, without making anything anew. */
export function mark(id, others = []) {
  for (const other of document.querySelectorAll('.finding.together')) other.classList.remove('together');
  for (const other of others) document.getElementById(`f-${other}`)?.classList.add('together');
  for (const other of document.querySelectorAll('.finding[aria-current]')) {
    other.removeAttribute('aria-current');
    other.tabIndex = -1;
  }
  const chosen = document.getElementById(`f-${id}`);
  if (!chosen) return null;
  chosen.setAttribute('aria-current', 'true');
  chosen.tabIndex = 0;
  return chosen;
}

/** "3 findings" of a region, for those who jump to it. */
export function regionWords(place) {
  return count(place.eye + place.clear + place.decided, 'finding');
}
