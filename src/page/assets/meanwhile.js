// When somebody else has decided in between.
// Takes the wish, and the record as it is now; says what stands there and by whom. Gives "again" or "theirs".
import { el } from './dom.js';
import { open } from './dialog.js';
import { decisionWords, findingWords, moment } from './words.js';

const WANTED = { confirm: 'confirm it', change: 'change it', reject: 'reject it', add: 'add it', undo: 'undo it' };

export async function meanwhile(refused, wish) {
  const record = refused.body.record;
  const id = refused.body.finding ?? wish?.finding;
  const finding = record.findings.find((other) => other.id === id);
  const again = await open({
    title: 'Decided in the meantime',
    content: [finding ? stands(finding) : el('p', {}, refused.message), wanted(wish)],
    go: 'Decide again',
    cancel: 'Keep theirs',
    kind: 'meanwhile',
  });
  return again ? 'again' : 'theirs';
}

function stands(finding) {
  if (!finding.decision)
    return el('p', {}, `${findingWords(finding)} was undone by somebody else and is undecided now.`);
  const { by, role, at, kind } = finding.decision;
  return el(
    'div',
    {},
    el('p', {}, `${by}, ${role}, was here before you (${moment(at)}).`),
    el(
      'p',
      { class: 'stands' },
      el('span', { class: 'quiet' }, decisionWords(kind)),
      ' ',
      el('strong', {}, findingWords(finding, finding.now ?? finding)),
    ),
  );
}

function wanted(wish) {
  return wish ? el('p', { class: 'quiet' }, `You wanted to ${WANTED[wish.kind]}. Nothing of yours was written.`) : null;
}
