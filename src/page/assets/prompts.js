// What may be worth a second look, and why it was put aside.
// Takes the prompts of a record as the program reckons them; gives elements, and asks for the reason to put one aside. Leaves alone
// which there are, and their wording. Nothing here is announced or spoken: parents may be listening.
import { sources } from './cited.js';
import { line, open } from './dialog.js';
import { button, el, unseen } from './dom.js';
import { capital, count, moment } from './words.js';

const LEVELS = {
  now: ['◆', 'now'],
  soon: ['◇', 'soon'],
  pathway: ['▷', 'local pathway'],
  recheck: ['↻', 'examine again'],
};

/** Prompts that nobody put aside; `level` narrows them. */
export function standing(record, level = null) {
  return record.computed.prompts.filter((prompt) => !prompt.put_aside && (!level || prompt.level === level));
}

/** The section at the top of a record. `ask` has `together(ids)`, `putAside(prompt)`, `readOnly`. */
export function section(record, ask) {
  const now = standing(record, 'now');
  const rest = standing(record).filter((prompt) => prompt.level !== 'now');
  const aside = record.computed.prompts.filter((prompt) => prompt.put_aside);
  return el(
    'section',
    { class: 'part prompts', 'aria-labelledby': 'prompts-head' },
    el('h2', { id: 'prompts-head', tabindex: '-1' }, 'Worth a second look'),
    now.map((prompt) => shown(prompt, ask, { folded: true })),
    more(rest, now.length > 0, ask),
    aside.length > 0 ? putAway(aside, ask) : null,
    none(record),
    about(record),
  );
}

function more(rest, others, ask) {
  if (rest.length === 0) return null;
  return el(
    'details',
    { class: 'fold', data: { keep: 'prompts' } },
    el(
      'summary',
      {},
      el('strong', {}, `${others ? 'And ' : ''}${count(rest.length, others ? 'more prompt' : 'prompt')}`),
      el('span', { class: 'quiet' }, ` ${rest.map((prompt) => prompt.said.join(', ')).join('; ')}`),
    ),
    el(
      'div',
      { class: 'stack' },
      rest.map((prompt) => shown(prompt, ask)),
    ),
  );
}

function putAway(aside, ask) {
  return el(
    'details',
    { class: 'fold', data: { keep: 'prompts-aside' } },
    el('summary', {}, el('strong', {}, count(aside.length, 'prompt')), ' put aside'),
    el(
      'div',
      { class: 'stack' },
      aside.map((prompt) => shown(prompt, ask)),
    ),
  );
}

function none(record) {
  return record.computed.no_prompts ? el('p', { class: 'no-prompts' }, record.computed.no_prompts) : null;
}

function about(record) {
  return el('p', { class: 'quiet about-prompts' }, record.computed.about_prompts.join(' '));
}

function shown(prompt, ask, { folded = false } = {}) {
  const said = prompt.said.join(', ');
  const why = el('div', { class: 'grounds' }, reasons(prompt), sources(prompt.cited));
  return el(
    'div',
    { class: `prompt ${prompt.put_aside ? 'aside' : prompt.level}`, role: 'group', 'aria-label': said },
    words(prompt),
    notes(prompt),
    folded ? null : why,
    prompt.put_aside ? setAside(prompt.put_aside) : null,
    el(
      'div',
      { class: 'prompt-foot' },
      folded
        ? el('details', { data: { keep: `why-${prompt.id}` } }, el('summary', {}, 'Why, and where from'), why)
        : null,
      el('div', { class: 'acts' }, show(prompt, ask), set(prompt, ask)),
    ),
  );
}

// What is signed is read, not worked on.
function set(prompt, ask) {
  if (prompt.put_aside || ask.readOnly) return null;
  const made = button('Put aside …', () => ask.putAside(prompt), { kind: 'small' });
  return withName(made, prompt.said.join(', '));
}

function show(prompt, ask) {
  const many = prompt.findings.length;
  const made = button(
    many === 1 ? 'Show the finding' : `Show the ${many} findings`,
    () => ask.together(prompt.findings),
    {
      kind: 'small',
    },
  );
  return withName(made, prompt.said.join(', '));
}

function withName(made, name) {
  made.append(unseen(` ${name}`));
  return made;
}

function words(prompt) {
  const [shape, level] = LEVELS[prompt.level] ?? ['◇', prompt.level];
  const sign = el('span', { class: 'level' }, el('span', { 'aria-hidden': 'true' }, shape), ` ${level}`);
  return el('p', { class: 'prompt-words' }, sign, ' ', prompt.words);
}

// That something was said with doubt, or in a state that may explain it, is never one step away.
function notes(prompt) {
  return prompt.notes.length > 0 ? el('p', { class: 'prompt-notes' }, `${capital(prompt.notes.join('; '))}.`) : null;
}

function reasons(prompt) {
  return el(
    'ul',
    {},
    prompt.why.map((why) => el('li', {}, why)),
  );
}

function setAside({ words: why, by, role, at }) {
  return el(
    'p',
    { class: 'set-aside' },
    el('strong', {}, 'Put aside'),
    ` by ${by}, ${role}, ${moment(at)}: `,
    el('q', {}, why),
  );
}

/** Everything that was not put aside, once more before somebody signs. */
export function repeated(record) {
  const open_ = standing(record);
  const aside = record.computed.prompts.length - open_.length;
  return el(
    'div',
    { class: 'prompts repeated' },
    el('h3', {}, 'Worth a second look'),
    open_.map((prompt) =>
      el('div', { class: `prompt ${prompt.level}` }, words(prompt), notes(prompt), sources(prompt.cited)),
    ),
    aside > 0 ? el('p', { class: 'quiet' }, `${count(aside, 'prompt')} put aside, with a reason.`) : null,
    none(record),
    about(record),
  );
}

/** Asks why a prompt is put aside; `send(reason)` gives the record as it is then. */
export function putAside(prompt, send) {
  const reason = line('Why it is put aside', '', { name: 'reason', maxlength: '200', 'data-first': true });
  return open({
    title: 'Put a prompt aside',
    content: [
      words(prompt),
      notes(prompt),
      reason.field,
      el(
        'p',
        { class: 'quiet' },
        'The finding stays as it is. The prompt stays readable, with your name and the reason, and comes back if the value changes.',
      ),
    ],
    go: 'Put aside',
    done: () => {
      if (!reason.input.value.trim())
        throw new Error('The reason is missing: it stays with the record, for whoever reads it next.');
      return send(reason.input.value.trim());
    },
  });
}
