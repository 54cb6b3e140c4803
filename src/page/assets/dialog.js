// A dialog with a form.
// Takes a title, what is in it, and what its button does; gives a promise of what came of it (null where it was left).
// Escape and "Cancel" leave it; the focus goes back to where it was.
import { button, el, fill } from './dom.js';

let number = 0;

/** What `done` gives to leave the dialog open. */
export const STAY = Symbol('stay');

/**
 * Opens a dialog. `done()` gives the result, or throws an error whose words are shown in the dialog; `go` is the words on
 * the button that does it, null for none. A refusal that brings the record as it is now ends the dialog and is thrown.
 */
export function open({ title, content, go, cancel = 'Cancel', done = () => true, kind = '', disabled = false }) {
  number += 1;
  const id = `dialog-${number}`;
  const back = document.activeElement;
  return new Promise((resolve, reject) => {
    const wrong = el('p', { class: 'wrong', role: 'alert' });
    const goes = go ? el('button', { type: 'submit', class: 'main', disabled }, go) : null;
    const dialog = el('dialog', { class: kind, 'aria-labelledby': id });
    const leave = () => {
      dialog.close();
      dialog.remove();
      // What was decided in the dialog may have made the page anew: then the focus goes to what is selected.
      const there = back?.isConnected ? back : document.querySelector('[aria-current]');
      there?.focus({ preventScroll: true });
    };
    const close = (result) => {
      leave();
      resolve(result);
    };
    const fail = (error) => {
      leave();
      reject(error);
    };
    const form = el(
      'form',
      { novalidate: true, on: { submit: (event) => submit(event, { goes, wrong, done, close, fail }) } },
      el('h2', { id }, title),
      content,
      el(
        'div',
        { class: 'buttons' },
        wrong,
        goes,
        button(cancel, () => close(null), { key: 'Escape', shown: 'Esc' }),
      ),
    );
    dialog.addEventListener('cancel', (event) => {
      event.preventDefault();
      close(null);
    });
    dialog.append(form);
    document.body.append(dialog);
    dialog.showModal();
    (dialog.querySelector('[data-first]') ?? dialog.querySelector('input, select, textarea, button'))?.focus();
  });
}

async function submit(event, { goes, wrong, done, close, fail }) {
  event.preventDefault();
  if (!goes || goes.disabled) return;
  goes.disabled = true;
  fill(wrong);
  try {
    const result = await done();
    if (result !== STAY) close(result);
  } catch (error) {
    // What was looked at is not what stands any more: it must be seen before anything is pressed again.
    if (error.body?.record) fail(error);
    else fill(wrong, error.message);
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
