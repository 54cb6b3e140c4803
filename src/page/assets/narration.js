// The narration, and the words in it that a finding rests on.
// Takes lines of the transcript and a finding's evidence; gives elements. Each mark has its own underline, so that colour is
// not needed to tell item, value and side.
import { el, unseen } from './dom.js';
import { marked } from './model.js';
import { clock } from './words.js';

const NAMES = { item: 'item', value: 'value', side: 'side' };

/** The line that a finding rests on with its words marked, and its neighbours. */
export function around(record, evidence) {
  const lines = record.draft.transcript;
  const at = evidence.utterance;
  const near = [at - 1, at, at + 1].filter((ix) => lines[ix]);
  const shown = near.map((ix) => line(lines[ix], ix === at ? 'this' : 'near', spans(evidence, ix)));
  return el('div', { class: 'narration' }, shown, legend(evidence));
}

function spans(evidence, utterance) {
  const parts = [['item', evidence.item], ['value', evidence.value], ...evidence.sides.map((side) => ['side', side])];
  const here = parts.filter(([, part]) => part && (part.utterance ?? evidence.utterance) === utterance);
  const all = here.map(([kind, part]) => ({ kind, start: part.start, end: part.end }));
  if (utterance === evidence.utterance) all.push({ kind: 'quote', start: evidence.start, end: evidence.end });
  return all;
}

function line(said, kind, marks) {
  const text = marked(said.text, marks).map((piece) =>
    piece.marks.length > 0
      ? el('span', { class: piece.marks.map((mark) => `mark-${mark}`).join(' ') }, piece.text)
      : piece.text,
  );
  return el(
    'p',
    { class: `line ${kind}` },
    time(said),
    kind === 'this' ? unseen('This line: ') : null,
    text,
    atFirst(said),
  );
}

function time(said) {
  return said.from_ms === null ? null : el('span', { class: 'time' }, clock(said.from_ms), ' ');
}

function atFirst(said) {
  if (!said.at_first || said.at_first === said.text) return null;
  return el('span', { class: 'at-first' }, 'Heard at first: ', el('q', {}, said.at_first));
}

function legend(evidence) {
  const parts = [
    ['item', evidence.item ? [evidence.item] : []],
    ['value', evidence.value ? [evidence.value] : []],
    ['side', evidence.sides],
  ];
  const shown = parts
    .filter(([, all]) => all.length > 0)
    .map(([kind, all]) =>
      el(
        'span',
        {},
        el('span', { class: `mark-${kind}` }, NAMES[kind]),
        unseen(`: ${all.map((part) => part.quote).join(', ')}`),
      ),
    );
  return el('p', { class: 'legend' }, shown);
}

/** All of it, folded away. */
export function whole(record) {
  const lines = record.draft.transcript.map((said) => el('li', {}, time(said), said.text, atFirst(said)));
  return el(
    'details',
    { class: 'whole', data: { keep: 'narration' } },
    el('summary', {}, el('h2', {}, 'The whole narration')),
    el('ol', {}, lines),
  );
}
