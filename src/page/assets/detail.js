// What is known of the selected finding: its words, its reasons, what it replaced, who decided.
// Takes the record and a finding; gives elements, and the buttons that decide it.
import { panel } from './beside.js';
import { button, el } from './dom.js';
import { around } from './narration.js';
import { capital, decisionWords, moment, sideWords, valueWords } from './words.js';

/** The panel. `ask` is what record.js does for keys and buttons alike. */
export function detail(record, finding, ask) {
  if (!finding) return [el('p', { class: 'quiet' }, 'Choose a finding to see the words it came from.')];
  const stated = finding.now ?? finding;
  return [
    el('h2', {}, capital(finding.name), ' ', el('span', { class: 'side' }, sideWords(stated.side))),
    el('p', { class: 'value' }, valueWords(stated)),
    reasons(finding),
    decided(finding, ask),
    finding.evidence
      ? around(record, finding.evidence)
      : el('p', { class: 'quiet' }, 'Added by hand: no words of the narration say it.'),
    history(finding),
    heard(finding),
    group(finding),
    panel(record, finding),
  ];
}

function reasons(finding) {
  const words = finding.reasons.map((reason) => reason.why ?? reason.words);
  if (finding.outside && !finding.reasons.some((reason) => reason.id.includes('limits')))
    words.push('outside plausible limits');
  if (words.length === 0) return null;
  return el(
    'div',
    { class: 'why' },
    el('h3', {}, finding.decision ? 'Why it was marked' : 'Why it needs your eye'),
    el(
      'ul',
      {},
      [...new Set(words)].map((word) => el('li', {}, word)),
    ),
  );
}

function decided(finding, ask) {
  if (!finding.decision) return null;
  const { kind, by, role, at } = finding.decision;
  const offer =
    kind === 'changed' && ask.misheard ? button('Propose as misheard …', ask.misheard, { kind: 'small' }) : null;
  return el('div', { class: 'ruling' }, el('p', {}, `${decisionWords(kind)} by ${by}, ${role}, ${moment(at)}.`), offer);
}

function history(finding) {
  if (finding.history.length === 0) return null;
  return el(
    'div',
    { class: 'history' },
    el('h3', {}, 'Said before'),
    el(
      'ol',
      {},
      finding.history.map((old) =>
        el('li', {}, old.words, old.why ? el('span', { class: 'quiet' }, ` – “${old.why}”`) : null),
      ),
    ),
  );
}

function heard(finding) {
  return finding.heard_by ? el('p', { class: 'quiet' }, capital(finding.heard_by)) : null;
}

function group(finding) {
  return finding.by_group
    ? el('p', { class: 'quiet' }, 'It was said of a group of items that this one belongs to.')
    : null;
}

/** The bar of buttons. */
export function bar(record, finding, ask) {
  const off = !finding || ask.readOnly;
  const none = (words) => (off ? true : words);
  const confirmed = Boolean(finding?.decision);
  return el(
    'div',
    { class: 'bar', role: 'group', 'aria-label': 'Decide the selected finding' },
    ask.readOnly
      ? null
      : [
          button('Confirm', ask.confirm, { key: 'Enter', kind: 'main', disabled: none(confirmed) }),
          button('Change', ask.change, { key: 'c', disabled: none(false) }),
          button('Reject', ask.reject, { key: 'x', disabled: none(finding?.decision?.kind === 'rejected') }),
          button('Undo', ask.undo, { key: 'u', disabled: !ask.canUndo }),
        ],
    record.sound === 'kept' ? button('Play', ask.play, { key: 'p', id: 'play', disabled: !hasSound(finding) }) : null,
    button('Next', ask.next, { key: 'j', kind: 'step' }),
  );
}

function hasSound(finding) {
  return Boolean(finding?.evidence) && finding.evidence.from_ms !== null && finding.evidence.from_ms !== undefined;
}
