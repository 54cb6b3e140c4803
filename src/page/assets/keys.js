// Single keys.
// Takes a table of keys and what they do; listens. They do nothing while a dialog is open, while something is typed, or when
// they were switched off. Enter on a button or link stays what it is, except on a finding, where it confirms.
import { isOpen } from './dialog.js';

const MOVES = ['j', 'k', 'ArrowDown', 'ArrowUp'];

let actions = {};
let on = true;

export const KEYS = [
  ['j ↓', 'next finding'],
  ['k ↑', 'the one before'],
  ['n', 'next undecided one'],
  ['Enter', 'confirm'],
  ['c', 'change: side, value, number'],
  ['l r', 'where no side was said: it was the left, the right'],
  ['x', 'reject'],
  ['a', 'add a finding'],
  ['u', 'undo this decision, or the last one'],
  ['p', 'play its stretch; again to stop'],
  ['A', 'confirm all clear ones'],
  ['s', 'sign, or amend'],
  ['/', 'search, in the list'],
  ['d', 'dictate, in the list'],
  ['?', 'this help'],
  ['Esc', 'leave a dialog'],
];

export const isOn = () => on;
export const switchTo = (whether) => {
  on = whether;
};

/** What the keys do from now on. */
export function set(table) {
  actions = table;
}

function isTyping(target) {
  return target.matches('input, select, textarea, [contenteditable]');
}

function isForControl(event) {
  const control = event.target.closest('button, a, summary');
  if (!control || control.matches('.finding')) return false;
  return event.key === 'Enter' || event.key === ' ';
}

// By the shift key and not by the letter: with caps lock on, `a` must not confirm all clear ones.
function pressed(event) {
  if (!/^[a-z]$/i.test(event.key)) return event.key;
  return event.shiftKey ? event.key.toUpperCase() : event.key.toLowerCase();
}

document.addEventListener('keydown', (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || event.defaultPrevented || isOpen()) return;
  if (isTyping(event.target)) {
    if (event.key === 'Escape') event.target.blur();
    return;
  }
  if ((event.key.length === 1 && !on) || isForControl(event)) return;
  const key = pressed(event);
  const act = actions[key];
  // A key that is held down moves on; it must not decide one finding after the other.
  if (!act || (event.repeat && !MOVES.includes(key))) return;
  event.preventDefault();
  act();
});
