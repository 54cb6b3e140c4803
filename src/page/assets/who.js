// Who is reviewing.
// Takes what the command line said, if anything; asks once for name and role otherwise. Kept in the memory of this page only.
import { el } from './dom.js';
import { open, line } from './dialog.js';

let person = null;

export function known() {
  return person;
}

export function set(name, role) {
  person = { name: name.trim(), role: role.trim() };
  return person;
}

/** Two lines for name and role, and what they hold once both are filled. */
export function lines() {
  const name = line('Your name', person?.name, { name: 'name' });
  const role = line('Your role', person?.role, { name: 'role', placeholder: 'registrar, consultant, …' });
  const take = () => {
    if (!name.input.value.trim()) throw new Error('Your name is missing; a decision is somebody’s.');
    if (!role.input.value.trim()) throw new Error('Your role is missing: registrar, consultant, …');
    return set(name.input.value, role.input.value);
  };
  return { fields: el('div', { class: 'two' }, name.field, role.field), take };
}

/** Who it is, asked for if need be; null where nobody was named. */
export async function ask() {
  if (person) return person;
  const { fields, take } = lines();
  const why = el(
    'p',
    {},
    'Every decision is kept with who made it. Asked once, and kept only until this page is closed.',
  );
  return open({ title: 'Who is reviewing?', content: [why, fields], go: 'Go on', done: take });
}
