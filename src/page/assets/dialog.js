// A dialog with a form.
// Takes a title, what is in it, and what its button does; gives a promise of what came of it (null where it was left).
// Escape and "Cancel" leave it; the focus goes back to where it was.
import { button, el, fill } from './dom.js';

let number = 0;

/** What `done` gives to leave the dialog open. */
export const STAY = Symbol('stay');

/**
 * Opens a dialog. `done()` gives the result, or throws an error whose words are shown in the dialog; `go` is the words on
 * the button that does it, null for none.
 */
export function open({ title, content, go, cancel = 'Cancel', done = () => true, kind = '', disabled = false }) {
  number += 1;
  const id = `dialog-${number}`;
  const back = document.activeElement;
  return new Promise((resolve) => {
    const wrong = el('p', { class: 'wrong', role: 'alert' });
    const goes = go ? el('button', { type: 'submit', class: 'main', disabled }, go) : null;
    const dialog = el('dialog', { class: kind, 'aria-labelledby': id });
    const close = (result) => {
      dialog.close();
      dialog.remove();
      if (back?.isConnected) back.focus({ preventScroll: true });
      resolve(result);
    };
    const form = el('form', { novalidate: true, on: { submit: (event) => submit(event, goes, wrong, done, close) } },
      el('h2', { id }, title), content, wrong,
      el('div', { class: 'buttons' }, goes, button(cancel, () => close(null), { key: 'Escape', shown: 'Esc' })));
    dialog.addEventListener('cancel', (event) => { event.preventDefault(); close(null); });
    dialog.append(form);
    document.body.append(dialog);
    dialog.showModal();
    (dialog.querySelector('[data-first]') ?? dialog.querySelector('input, select, textarea, button'))?.focus();
  });
}

async function submit(event, goes, wrong, done, close) {
  event.preventDefault();
  if (!goes || goes.disabled) return;
  goes.disabled = true;
  fill(wrong);
  try {
    const result = await done();
    if (result !== STAY) close(result);
  } catch (error) {
    fill(wrong, error.message);
  }
  goes.disabled = false;
}

/** Whether a dialog is open, so that single keys are not for the page. */
export function isOpen() {
  return document.querySelector('dialog[open]') !== null;
}

/** A labelled line to type in. */
export function line(label, value, props = {}) {
  const input = el('input', { type: 'text', autocomplete: 'off', spellcheck: 'false', value: value ?? '', ...props });
  return { input, field: el('label', { class: 'field' }, el('span', {}, label), input) };
}
