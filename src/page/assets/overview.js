// What a record is, before its findings: the infant, what the sound lacked, the drawing, signatures, cautions.
// Takes the record; gives elements.
import { button, el } from './dom.js';
import * as exports_ from './exports.js';
import { whose } from './infant.js';
import { standing } from './prompts.js';
import { capital, clock, moment, valueWords } from './words.js';

export function overview(record, drawing, ask) {
  return [
    infant(record, ask),
    notices(record),
    signatures(record),
    exports_.section(record, ask),
    drawing,
    cautions(record),
  ];
}

function infant(record, ask) {
  const known = record.findings.filter((finding) => finding.context && finding.now);
  const pairs = known.map((finding) =>
    el('div', {}, el('dt', {}, finding.name), el('dd', {}, valueWords(finding.now))),
  );
  const source = record.draft.source;
  const length = source.length_ms ? `, ${clock(source.length_ms)} long` : '';
  const sound = record.sound === 'deleted' ? ' Its sound was deleted.' : '';
  const made = record.draft.model ? 'made by software from speech' : 'made by software from text';
  return el(
    'section',
    { class: 'infant', 'aria-label': 'The infant' },
    pairs.length > 0 ? el('dl', {}, pairs) : el('p', {}, 'Nothing was said of the infant: no age, no weight.'),
    el('p', { class: 'quiet' }, `${source.file_name}${length}; ${made}, ${moment(record.created)}.${sound}`),
    whose(record, ask),
  );
}

function notices(record) {
  if (record.draft.notices.length === 0) return null;
  const lines = record.draft.notices.map((notice) => {
    const at = notice.from_ms === null || notice.from_ms === undefined ? '' : `${clock(notice.from_ms)}: `;
    return el('li', {}, at, notice.words);
  });
  return el(
    'section',
    { class: 'notices', 'aria-label': 'Notices' },
    el('h2', { tabindex: '-1' }, lost(record) ? 'Something that was said may be missing' : 'Noticed in the recording'),
    el('ul', {}, lines),
  );
}

function signatures(record) {
  if (record.signatures.length === 0) return null;
  const lines = record.signatures.map((signature) =>
    el(
      'li',
      {},
      el('strong', {}, `Version ${signature.version}`),
      ` signed by ${signature.signer}, ${signature.role}, ${moment(signature.at)}`,
      signature.reason ? el('span', {}, `. Reason: ${signature.reason}`) : null,
    ),
  );
  return el('section', { class: 'signatures', 'aria-label': 'Signatures' }, el('ul', { class: 'plain' }, lines));
}

function cautions(record) {
  return el(
    'details',
    { class: 'cautions', data: { keep: 'cautions' } },
    el('summary', {}, 'What this record is, and is not'),
    el(
      'ul',
      {},
      record.cautions.map((words) => el('li', {}, words)),
    ),
  );
}

/** The head of a record: draft or signed, counts, sign. */
export function head(record, tally, stands, ask) {
  const title = el('h1', {}, record.draft.source.file_name);
  return [
    el(
      'div',
      { class: 'title' },
      title,
      el('p', { id: 'said', role: 'status' }),
      el('a', { href: '#/', class: 'back' }, 'All records'),
    ),
    banner(record, stands),
    el(
      'div',
      { class: 'counts' },
      el(
        'p',
        { id: 'counts' },
        number(tally.eye, tally.eye === 1 ? 'needs your eye' : 'need your eye', 'eye'),
        number(tally.clear, 'clear', 'clear'),
        number(tally.decided, 'decided', 'decided'),
        gaps(record),
        prompted(record),
      ),
      el('div', { class: 'acts' }, acts(tally, stands, ask)),
    ),
  ];
}

// Said in the head too, since the notices may be out of sight.
function gaps(record) {
  if (!lost(record)) return null;
  const go = () => document.querySelector('.notices h2').focus();
  return el('button', { type: 'button', class: 'gaps', on: { click: go } }, '⚠ something said may be missing');
}

// How many prompts there are is told wherever the reader is, and when a change has only just made one.
function prompted(record) {
  const [now, all] = [standing(record, 'now').length, standing(record).length];
  if (all === 0) return null;
  const go = () => document.getElementById('prompts-head').focus();
  const more = all > now ? `, ${all - now} more` : '';
  const words = now > 0 ? `◆ ${now} to look at now${more}` : `◇ ${all} worth a second look`;
  return el('button', { type: 'button', class: now > 0 ? 'gaps' : 'gaps calm', on: { click: go } }, words);
}

function lost(record) {
  return record.draft.notices.some((notice) => notice.loss && notice.loss !== 'none');
}

function number(many, words, kind) {
  return el('span', { class: `count ${kind}` }, el('strong', {}, String(many)), ` ${words}`);
}

function banner(record, stands) {
  if (!stands)
    return el(
      'p',
      { class: 'banner draft' },
      el('strong', {}, 'DRAFT'),
      ' Not confirmed until a licensed clinician signs it by name and time.',
    );
  const { last, waiting } = stands;
  const said = ` Version ${last.version}, ${last.signer}, ${last.role}, ${moment(last.at)}`;
  const more =
    waiting > 0
      ? el(
          'span',
          { class: 'waiting' },
          ` ${capital(String(waiting))} ${waiting === 1 ? 'decision' : 'decisions'} since: DRAFT until signed.`,
        )
      : null;
  return el(
    'p',
    { class: 'banner signed' },
    el('strong', {}, record.state === 'amended' ? 'AMENDED' : 'SIGNED'),
    said,
    more,
  );
}

function acts(tally, stands, ask) {
  const clear =
    !ask.readOnly && tally.clear > 0
      ? button(`Confirm ${tally.clear} clear`, ask.confirmClear, { key: 'Shift+A', shown: 'A' })
      : null;
  const add = ask.readOnly ? null : button('Add', ask.add, { key: 'a' });
  const words = !stands ? 'Sign' : ask.readOnly ? 'Amend' : 'Sign the amendment';
  const ready = tally.open === 0 && !(stands && ask.readOnly);
  return [
    clear,
    add,
    button(words, ask.sign, { key: 's', kind: ready ? 'main' : '' }),
    button('Keys', ask.help, { key: '?', kind: 'for-keys' }),
  ];
}
