// The help dialog: keys, marks, what the page does not do.
// Takes nothing; gives a promise that ends when it is closed.
import { el, kbd } from './dom.js';
import { open } from './dialog.js';
import { KEYS, isOn, switchTo } from './keys.js';

export function help() {
  const keys = el(
    'dl',
    { class: 'keys' },
    KEYS.map(([key, words]) => [el('dt', {}, key.split(' ').map(kbd)), el('dd', {}, words)]),
  );
  const tick = el('input', {
    type: 'checkbox',
    checked: isOn(),
    on: { change: (event) => switchTo(event.target.checked) },
  });
  return open({
    title: 'Keys',
    content: [
      keys,
      el('label', { class: 'tick' }, tick, el('span', {}, 'Single letters act (switch off for speech input)')),
      el(
        'p',
        { class: 'quiet' },
        'A finding is a draft until you confirm, change or reject it. Nothing is filled in: what was not mentioned stays so.',
      ),
    ],
    go: null,
    cancel: 'Close',
    kind: 'help',
  });
}
