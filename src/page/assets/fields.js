// Typed fields for what is stated of an item: side, value, number with unit, "about".
// Takes an item of the lexicon and what stands now; gives the fields and a function that reads them. Nothing is chosen
// beforehand that was not said. The program checks what is typed.
import { el, kbd } from './dom.js';

const DIGITS = '1234567890';
const LETTERS = 'abcdefghijkmnopqstuvwxyz'; // without l and r, which are the sides

/** `{content, read}` for an item; `now` is `{side, value, words, approx}` or null. */
export function fields(item, now) {
  const picks = new Map();
  const side = item.paired ? sides(now, picks) : null;
  const number = item.units.length > 0 ? figure(item, now) : null;
  const choice = choices(item, now, picks, number);
  const about = el('input', { type: 'checkbox', checked: Boolean(now?.approx) });
  const approx = number ? el('label', { class: 'tick' }, about, el('span', {}, '“about” was said')) : null;
  const content = el(
    'div',
    { class: 'fields', on: { keydown: (event) => pick(event, picks) } },
    side?.content,
    number?.content,
    approx,
    choice.content,
  );
  const first = number?.input ?? content.querySelector('[name=value]:checked') ?? content.querySelector('[name=value]');
  const start = item.paired && !['left', 'right'].includes(now?.side) ? content.querySelector('[name=side]') : first;
  start?.setAttribute('data-first', '');
  return { content, read: () => read(item, side, number, choice, about) };
}

function read(item, side, number, choice, about) {
  const chosen = side ? side.read() : 'none';
  if (!chosen) throw new Error(`${item.name} is found on the left and on the right; say which.`);
  const typed = number?.read();
  const value = typed || choice.read();
  if (!value) throw new Error(number ? 'Type a number, or choose what was said instead.' : 'Choose a value.');
  return { side: chosen, value, approx: Boolean(typed) && about.checked };
}

// A key chooses; digits are for the number where one is typed.
function pick(event, picks) {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  const radio = picks.get(event.key.toLowerCase());
  const typing = event.target.matches('input[type=text], input[type=search]');
  if (!radio || (typing && !event.target.matches('.figure'))) return;
  event.preventDefault();
  radio.click();
  radio.focus();
}

function radio(name, value, words, key, checked, picks) {
  const input = el('input', { type: 'radio', name, value, checked });
  if (key) picks.set(key, input);
  return el('label', { class: 'pick' }, input, el('span', {}, words), key ? kbd(key) : null);
}

function sides(now, picks) {
  const pickFor = (side) => radio('side', side, side, side.charAt(0), now?.side === side, picks);
  const content = el(
    'fieldset',
    { class: 'sides' },
    el('legend', {}, 'Side of the infant'),
    pickFor('right'),
    pickFor('left'),
  );
  return { content, read: () => content.querySelector(':checked')?.value ?? null };
}

function choices(item, now, picks, number) {
  const keys = number ? LETTERS : DIGITS + LETTERS;
  const made = item.values.map((value, at) =>
    radio('value', value.id, value.words, keys.charAt(at), now?.value === value.id, picks),
  );
  const legend = number ? 'or, instead of a number' : 'Value';
  const content = el('fieldset', { class: 'values' }, el('legend', {}, legend), made);
  // Whoever chooses takes the number back, and the other way round: one of them is meant.
  content.addEventListener('change', () => {
    if (number) number.input.value = '';
  });
  number?.input.addEventListener('input', () => {
    const chosen = content.querySelector(':checked');
    if (chosen) chosen.checked = false;
  });
  return { content, read: () => content.querySelector(':checked')?.value ?? null };
}

function figure(item, now) {
  const stands = /^([<>=]*)([-\d.+]+)([a-z]+)$/.exec(now?.value ?? '');
  const unit = stands && item.units.includes(stands[3]) ? stands[3] : item.units[0];
  const input = el('input', {
    type: 'text',
    class: 'figure',
    inputmode: 'decimal',
    autocomplete: 'off',
    value: stands ? stands[1] + stands[2] : '',
  });
  const units = el(
    'select',
    { 'aria-label': 'Unit' },
    item.units.map((name) => el('option', { value: name, selected: name === unit }, unitWords(name))),
  );
  const one = el('span', { class: 'unit' }, unitWords(unit));
  const content = el(
    'div',
    { class: 'number' },
    el('label', { class: 'field' }, el('span', {}, 'Number'), input),
    item.units.length > 1 ? units : one,
  );
  const limits = item.plausible ? hint(item) : null;
  const typed = () => input.value.replace(/\s/g, '').replace(',', '.');
  return { content: el('div', {}, content, limits), input, read: () => (typed() ? typed() + units.value : null) };
}

function hint(item) {
  const [from, to] = item.plausible;
  return el(
    'p',
    { class: 'quiet' },
    `Plausible: ${from} to ${to} ${unitWords(item.units[0])}. A value beyond is kept and flagged.`,
  );
}

function unitWords(unit) {
  return { deg: 'degrees', wk: 'weeks (40+3)', d: 'days', h: 'hours' }[unit] ?? unit;
}
