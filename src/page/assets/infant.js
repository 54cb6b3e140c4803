// Whose record it is and when the examination was, as somebody wrote it.
// Takes the record; gives elements and a dialog. Never asks for a name: the words are those by which the chart knows the infant.
// Leaves alone what stands of a signed record, which the program alone says.
import { line, open } from './dialog.js';
import { button, el } from './dom.js';
import { day, moment } from './words.js';

const HELP =
  'The words by which the chart knows the infant, such as its number on your list; not a name. Signed records with the same words ' +
  'are shown side by side.';

/** What stands, with who wrote it. `ask.whose()` opens the form. */
export function whose(record, ask) {
  return el(
    'div',
    { class: 'whose' },
    el('h2', { tabindex: '-1', id: 'whose-head' }, 'Infant and time'),
    el(
      'dl',
      {},
      stated('Infant', record.infant, record.infant?.words),
      stated('Examined', record.examined, day(record.examined?.words)),
    ),
    isFixed(record) ? null : button('Infant and time …', ask.whose, { kind: 'small' }),
  );
}

function stated(name, remark, words) {
  return el(
    'div',
    {},
    el('dt', {}, name),
    remark
      ? el(
          'dd',
          {},
          words,
          el('span', { class: 'quiet' }, ` written by ${remark.by}, ${remark.role}, ${moment(remark.at)}`),
        )
      : el('dd', { class: 'none' }, 'not written'),
  );
}

// A record that is signed is of the infant and time it was signed with; what was left open can still be written.
const isFixed = (record) => record.signatures.length > 0 && record.infant && record.examined;

/**
 * Fields, and what they say that does not stand yet: `{infant?, examined?}`. `missing` gives fields only for what nobody wrote. A
 * signed record keeps what it has.
 */
export function fields(record, { missing = false } = {}) {
  const isOpen = (remark) => !remark || !(missing || record.signatures.length > 0);
  const infant = isOpen(record.infant) ? infantField(record.infant?.words ?? '') : null;
  const examined = isOpen(record.examined) ? timeFields(record.examined?.words ?? '') : null;
  if (!infant && !examined) return null;
  const read = () => ({ ...infant?.read(), ...examined?.read() });
  return { content: el('div', { class: 'fields whose-fields' }, infant?.content, examined?.content), read };
}

function infantField(before) {
  const { input, field } = line('Infant', before, {
    name: 'infant',
    maxlength: '200',
    'aria-describedby': 'infant-help',
  });
  const help = el('p', { class: 'quiet', id: 'infant-help' }, HELP);
  // What was not touched is not sent.
  const read = () => (input.value.trim() === before ? {} : { infant: input.value.trim() });
  return { content: el('div', {}, field, help), read };
}

function timeFields(before) {
  const [date = '', time = ''] = before.split('T');
  const on = dated('Day of the examination', 'date', date);
  const at = dated('Time, if known', 'time', time.slice(0, 5));
  const starts = [on.input.value, at.input.value].join();
  const read = () => {
    // What is half typed reads as nothing, and would be lost.
    if ([on.input, at.input].some((input) => input.validity.badInput))
      throw new Error('The day or the time is not whole; fill it in, or clear it.');
    if ([on.input.value, at.input.value].join() === starts) return {};
    if (at.input.value && !on.input.value)
      throw new Error('The day is missing; a time alone does not tell when it was.');
    return { examined: on.input.value + (at.input.value ? `T${at.input.value}` : '') };
  };
  return { content: el('div', { class: 'two' }, on.field, at.field), read };
}

function dated(label, type, value) {
  const input = el('input', { type, value, name: type });
  return { input, field: el('label', { class: 'field' }, el('span', {}, label), input) };
}

/** The form; `send(said)` gives the record as it is then. */
export function edit(record, send) {
  const { content, read } = fields(record);
  const note =
    record.signatures.length > 0
      ? 'It stays as it is written: a signed record is of one infant.'
      : 'Empty takes back what was written. Once the record is signed, it stays.';
  return open({
    title: 'Infant and time',
    content: [content, el('p', { class: 'quiet' }, note)],
    go: 'Write it',
    done: () => {
      const said = read();
      if (Object.keys(said).length === 0) throw new Error('Nothing was changed.');
      return send(said);
    },
  });
}
