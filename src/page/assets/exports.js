// What can be taken out of a record as a file.
// Takes the record; gives buttons that fetch a file and hand it to the browser to keep. A draft can only be printed, watermarked: the
// program refuses everything else, and its words are shown. Leaves alone what stands in the files.
import * as api from './api.js';
import { button, el } from './dom.js';

const KINDS = [
  ['note', 'Note as text'],
  ['markdown', 'Note as Markdown'],
  ['pdf', 'PDF to print'],
  ['fhir', 'FHIR document'],
  ['csv', 'CSV for research'],
];
const DRAFT = ['pdf', 'Print draft (PDF, watermarked)'];

/** The list; `ask.keepFile(kind, words)` fetches one. */
export function section(record, ask) {
  const offer = ([kind, words]) => button(words, () => ask.keepFile(kind, words), { kind: 'small' });
  if (record.signatures.length === 0) return el('div', { class: 'exports' }, offer(DRAFT));
  return el(
    'details',
    { class: 'exports', data: { keep: 'exports' } },
    el('summary', {}, 'Take it out as a file'),
    record.decided_since > 0
      ? el(
          'p',
          { class: 'quiet' },
          `As signed in version ${record.signatures.at(-1).version}; what was decided since is not in it.`,
        )
      : null,
    el(
      'ul',
      { class: 'plain' },
      KINDS.map((kind) => el('li', {}, offer(kind))),
    ),
  );
}

/** Fetches a file and gives it to the browser, which asks or knows where it is to be kept; gives its name. */
export async function fetchFile(id, kind) {
  const { blob, name } = await api.exported(id, kind);
  const link = el('a', { href: URL.createObjectURL(blob), download: name });
  link.click();
  // The browser has begun to read it once the click is through; a minute is plenty.
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
  return name;
}
