// Signing and amending.
// Takes the record; asks for name, role and, for an amendment, a reason. Refuses while anything is undecided and says what.
import { el } from './dom.js';
import { open, line } from './dialog.js';
import * as infant from './infant.js';
import { counts } from './model.js';
import { repeated } from './prompts.js';
import { count, day, findingWords } from './words.js';
import * as who from './who.js';

/**
 * Opens the dialog; `send({by, reason})` signs, `go(id)` shows a finding that is undecided, `remark(by, said)` writes whose record it
 * is and when the examination was, where that is missing.
 */
export function sign(record, { send, go, remark }) {
  const open_ = record.findings.filter((finding) => !finding.decision);
  if (open_.length > 0) return refuse(record, open_, go);
  const amends = record.signatures.at(-1);
  const { fields, take } = who.lines();
  const reason = line('Why it is amended', '', { name: 'reason', 'data-first': true });
  const whose = infant.fields(record, { missing: true });
  const done = async () => {
    const by = take();
    const why = reason.input.value.trim();
    if (amends && !why) throw new Error('The reason is missing: an amendment says why it is made.');
    const said = whose?.read() ?? {};
    if (Object.keys(said).length > 0) await remark(by, said);
    return send({ by, reason: why });
  };
  return open({
    title: amends ? `Amend version ${amends.version}` : 'Sign this record',
    content: [
      summary(record),
      amends ? reason.field : null,
      // Below the first fields: where the focus is, the most pressing prompt is in sight.
      fields,
      repeated(record),
      whoseWords(record),
      whose ? [whose.content, el('p', { class: 'quiet' }, 'May be left empty.')] : null,
      cautions(record),
      promise(amends),
    ],
    go: amends ? `Sign version ${amends.version + 1}` : 'Sign',
    done,
  });
}

function refuse(record, undecided, go) {
  const pressing = [...undecided].sort((one, other) => Number(one.clear) - Number(other.clear));
  const shown = pressing.slice(0, 12);
  let chosen = null;
  const pick = (finding) => (event) => {
    event.preventDefault();
    chosen = finding.id;
    event.target.closest('dialog').dispatchEvent(new Event('cancel', { cancelable: true }));
  };
  const lines = shown.map((finding) =>
    el(
      'li',
      {},
      el('a', { href: `#/${record.id}`, on: { click: pick(finding) } }, findingWords(finding)),
      finding.reasons.length > 0
        ? el('span', { class: 'quiet' }, ` ${finding.reasons.map((reason) => reason.words).join(', ')}`)
        : null,
    ),
  );
  const more = undecided.length - shown.length;
  const told = open({
    title: 'Not yet: something is undecided',
    content: [
      el(
        'p',
        {},
        `${count(undecided.length, 'finding')} ${undecided.length === 1 ? 'is' : 'are'} neither confirmed, changed nor rejected.`,
      ),
      el('ul', { class: 'plain' }, lines),
      more > 0 ? el('p', {}, `… and ${more} more.`) : null,
      cautions(record),
    ],
    go: null,
    cancel: 'Go on reviewing',
  });
  return told.then(() => {
    if (chosen) go(chosen);
    return null;
  });
}

function summary(record) {
  const tally = new Map();
  for (const finding of record.findings) tally.set(finding.decision.kind, (tally.get(finding.decision.kind) ?? 0) + 1);
  const parts = ['confirmed', 'changed', 'rejected', 'added'].filter((kind) => tally.has(kind));
  const said = parts.map((kind) => `${tally.get(kind)} ${kind}`).join(', ');
  const silent = `${count(record.not_mentioned.length, 'item')} not mentioned, and left so.`;
  return el('p', {}, `${count(counts(record).decided, 'finding')}: ${said}. ${silent}`);
}

function whoseWords({ infant: whose, examined }) {
  const parts = [whose ? `Infant: ${whose.words}.` : null, examined ? `Examined: ${day(examined.words)}.` : null];
  const words = parts.filter(Boolean).join(' ');
  return words ? el('p', {}, words) : null;
}

function cautions(record) {
  return el(
    'ul',
    { class: 'cautions' },
    record.cautions.map((words) => el('li', {}, words)),
  );
}

function promise(amends) {
  const words = amends
    ? 'The version before stays as it is and can be read.'
    : 'What is signed is not altered any more. A correction later is a new version, with its reason.';
  return el('p', { class: 'quiet' }, words);
}

/** Words for what stands of signatures, for the head. */
export function stands(record) {
  const last = record.signatures.at(-1);
  if (!last) return null;
  return { last, waiting: record.decided_since };
}
