// Telling the program that a phrase was misheard.
// Takes what the recogniser wrote and what it was taken for; shows what would be written into one's own phrases, and writes it
// only then. Sends nothing off the machine.
import { el, fill } from './dom.js';
import { STAY, line, open } from './dialog.js';
import * as api from './api.js';

/** Opens the dialog for a finding that was changed; gives the program's answer, or null. */
export function propose(finding) {
  const heard = line('The recogniser wrote', finding.evidence?.quote ?? '', { name: 'heard' });
  const said = line('What was said', '', { name: 'said', 'data-first': true });
  const shown = el('div', { class: 'toml', 'aria-live': 'polite' });
  const body = () => ({ heard: heard.input.value.trim(), said: said.input.value.trim() });
  let seen = null;
  const done = async () => {
    const now = JSON.stringify(body());
    if (seen === now) return api.keepMisheard(body());
    const preview = await api.previewMisheard(body());
    seen = now;
    fill(
      shown,
      el('p', {}, preview.words),
      el('p', { class: 'quiet' }, preview.file),
      el('pre', { tabindex: '0' }, preview.toml),
    );
    return STAY;
  };
  return open({
    title: 'Propose as misheard',
    content: [
      el(
        'p',
        {},
        'Next time these words are taken for what was said. Only the words that were misheard, not the whole sentence.',
      ),
      heard.field,
      said.field,
      shown,
    ],
    go: 'Show, then write',
    done,
  });
}
