// Before a dictation: what it does, what becomes of the sound, which items, which microphone; and what was left unfinished.
// Takes what the program says of dictation; gives the order to begin, or to make a draft of a recording that was not ended.
// Nothing is recorded here: the microphone is heard only to show that it hears.
import * as aloud from './aloud.js';
import * as api from './api.js';
import { open as dialog } from './dialog.js';
import { button, el, fill } from './dom.js';
import { devices, listen, loudness, permission } from './microphone.js';
import * as tones from './tones.js';
import { clock, count, moment } from './words.js';

const DEVICE = 'spoken-exam-microphone';
const SET = 'spoken-exam-set';
const POLICIES = {
  'until-signed': [
    'Until the record is signed',
    'You can listen to a finding while you review it; when the record is signed, the sound is deleted.',
  ],
  'not-kept': ['Not at all', 'The sound is deleted as soon as the draft is made. Nobody can listen to it again.'],
  'for-ever': [
    'Until somebody deletes it',
    'The sound stays with the record, and must be found and handed over when it is asked for.',
  ],
};

const ORDERS = {
  'take-back': 'takes back what was found last',
  'what-is-left': 'shows what was not heard of yet',
  'what-did-i-say': 'shows what was understood of it',
  mark: 'marks this moment for the review',
  pause: 'nothing is kept until it goes on',
  resume: 'goes on after a pause',
  end: 'ends, and makes the draft',
};

/** The microphone that was chosen; '' for the one that the browser uses. */
export const device = () => localStorage.getItem(DEVICE) ?? '';

/** Shows it; gives `{keys, leave}`. */
export async function show(app, dictation, { go, again }) {
  document.body.dataset.view = 'dictate';
  const part = { app, dictation, ear: null, policy: dictation.chosen ? dictation.policy : null };
  part.device = device();
  part.set = dictation.sets.some((set) => set.name === localStorage.getItem(SET))
    ? localStorage.getItem(SET)
    : dictation.sets[0]?.name;
  fill(
    app.head,
    el('div', { class: 'title' }, el('h1', {}, 'Dictate'), el('a', { class: 'back', href: '#/' }, 'All records')),
  );
  fill(app.foot);
  const begin = () => start(part, go);
  const can = dictation.available && !dictation.running;
  fill(
    app.main,
    el(
      'div',
      { class: 'before' },
      can ? null : why(dictation, go),
      part.dictation.unfinished.length > 0 ? unfinished(part, go, again) : null,
      can ? [tells(), sound(part), sets(part), microphone(part), voices(), orders(dictation)] : null,
      can
        ? el(
            'div',
            { class: 'begin' },
            button('Begin: it records from now on', begin, { key: 'b', kind: 'main' }),
            el('p', { class: 'wrong', id: 'not-yet', role: 'alert' }),
          )
        : null,
    ),
  );
  app.measure();
  if (can && (await permission()) === 'granted') hear(part);
  return { keys: { b: can ? begin : () => {}, Escape: () => (location.hash = '#/') }, leave: () => part.ear?.stop() };
}

function why({ available, why: words, running }, go) {
  if (available && running?.id)
    return el(
      'section',
      { class: 'sheet' },
      el('h2', {}, 'A dictation is under way, and no page holds it'),
      button('Go on with it', () => go({ order: 'rejoin', id: running.id }, { device: device() }), { kind: 'main' }),
    );
  const said = available
    ? 'A dictation is under way in another tab or window. There can be one at a time: end it there.'
    : words;
  return el('section', { class: 'sheet' }, el('p', { class: 'wrong' }, said));
}

function tells() {
  return el(
    'section',
    { class: 'sheet tells' },
    el('h2', {}, 'Before you begin'),
    el(
      'ul',
      {},
      el(
        'li',
        {},
        el('strong', {}, 'It records the sound of everybody in the room'),
        ', from “Begin” to the end, on this machine. Nothing leaves it.',
      ),
      el(
        'li',
        {},
        el('strong', {}, 'Somebody with parental responsibility must have agreed'),
        ' to a recording, and may say no or stop it at any time. Without that, write instead.',
      ),
      el('li', {}, el('strong', {}, 'Speak no name, no number of a patient, no date of birth.')),
      el('li', {}, 'What comes of it is a draft, made by software, until you have confirmed it.'),
    ),
  );
}

function sound(part) {
  const { dictation } = part;
  const picks = Object.entries(POLICIES).map(([policy, [words, more]]) =>
    el(
      'label',
      { class: 'pick' },
      el('input', {
        type: 'radio',
        name: 'policy',
        value: policy,
        checked: part.policy === policy,
        on: { change: () => (part.policy = policy) },
      }),
      el('span', {}, el('strong', {}, words), el('br'), more),
    ),
  );
  const choice = el('fieldset', { class: 'policies' }, el('legend', {}, 'How long is the sound kept?'), picks);
  if (!dictation.chosen) return el('section', { class: 'sheet' }, choice);
  const [words] = POLICIES[dictation.policy] ?? [dictation.policy];
  return el(
    'details',
    { class: 'sheet' },
    el('summary', {}, 'The sound is kept: ', el('strong', {}, words.toLowerCase())),
    choice,
  );
}

function sets(part) {
  const picks = part.dictation.sets.map((set) =>
    el(
      'label',
      { class: 'pick' },
      el('input', {
        type: 'radio',
        name: 'set',
        value: set.name,
        checked: part.set === set.name,
        on: { change: () => (part.set = set.name) },
      }),
      el('span', {}, set.title, el('span', { class: 'quiet' }, ` (${count(set.items, 'item')})`)),
    ),
  );
  return el(
    'fieldset',
    { class: 'sheet sets' },
    el('legend', {}, 'What is to be examined? What of it is left is shown while you speak.'),
    picks,
  );
}

function microphone(part) {
  part.choice = el('select', { id: 'microphone', on: { change: () => choose(part) } });
  part.meter = el('meter', {
    min: '0',
    max: '60',
    low: '12',
    high: '54',
    optimum: '30',
    value: 0,
    'aria-label': 'How loud it is',
  });
  part.heard = el('p', { class: 'heard', role: 'status' }, 'Try it: nothing is recorded yet.');
  listDevices(part);
  return el(
    'section',
    { class: 'sheet microphone' },
    el('label', { class: 'field' }, el('span', {}, 'Microphone'), part.choice),
    el(
      'div',
      { class: 'meter' },
      button('Try it', () => hear(part), { kind: 'small' }),
      part.meter,
    ),
    part.heard,
  );
}

async function listDevices(part) {
  const all = await devices();
  const known = all.filter(({ id }) => id !== 'default');
  if (!known.some(({ id }) => id === part.device)) part.device = '';
  const option = (id, words) => el('option', { value: id, selected: id === part.device }, words);
  fill(
    part.choice,
    option('', 'the one that the browser uses'),
    known.map(({ id, label }, at) => option(id, label || `microphone ${at + 1}`)),
  );
}

function choose(part) {
  part.device = part.choice.value;
  localStorage.setItem(DEVICE, part.device);
  hear(part);
}

function hear(part) {
  part.ear?.stop();
  let loudest = -90;
  let blocks = 0;
  const take = (block) => {
    const loud = loudness(block);
    part.meter.value = Math.max(0, loud + 70);
    loudest = Math.max(loudest, loud);
    blocks += 1;
    if (blocks === 1) listDevices(part);
    if (blocks % 10 === 0 && !part.wrong)
      part.heard.textContent = loudest > -45 ? 'It hears you.' : 'It is open. Speak as you will at the cot.';
  };
  const trouble = (words) => {
    part.wrong = words;
    part.heard.classList.toggle('wrong', words !== '');
    if (words) part.heard.textContent = words;
  };
  part.ear = listen({ device: part.device, take, trouble });
}

function voices() {
  const tick = (words, module) =>
    el(
      'label',
      { class: 'tick' },
      el('input', {
        type: 'checkbox',
        checked: module.isOn(),
        on: { change: ({ target }) => module.switchTo(target.checked) },
      }),
      el('span', {}, words),
    );
  return el(
    'fieldset',
    { class: 'sheet' },
    el('legend', {}, 'What is to be heard from it'),
    tick(
      'Short, quiet tones: one when something was taken, another when it needs your eye, a third for an order',
      tones,
    ),
    tick('Answers spoken aloud. Whoever is in the room hears them too', aloud),
  );
}

function orders(dictation) {
  return el(
    'section',
    { class: 'sheet' },
    el('h2', {}, `Everything can be said: begin with “${dictation.attention}”`),
    el(
      'ul',
      { class: 'orders plain' },
      dictation.orders.map((order) =>
        el('li', {}, el('span', {}, `“${order.phrase}”`), el('span', { class: 'quiet' }, ORDERS[order.name] ?? '')),
      ),
    ),
  );
}

async function start(part, go) {
  const wrong = document.getElementById('not-yet');
  if (!part.policy) {
    fill(wrong, 'Say first how long the sound is kept.');
    part.app.main.querySelector('input[name="policy"]')?.focus();
    return;
  }
  try {
    if (!part.dictation.chosen || part.policy !== part.dictation.policy) await api.keepSound(part.policy);
  } catch (error) {
    fill(wrong, error.message);
    return;
  }
  if (part.set) localStorage.setItem(SET, part.set);
  await go({ order: 'begin', set: part.set }, { device: part.device });
}

function unfinished(part, go, again) {
  const line = (recording) =>
    el(
      'li',
      {},
      el('span', {}, `${moment(recording.began)}, ${clock(recording.length_ms)} long`),
      button('Make a draft of it', () => go({ order: 'recover', id: recording.id }, null), {
        disabled: !part.dictation.available || Boolean(part.dictation.running),
      }),
      button('Delete', () => drop(part, recording, again)),
    );
  return el(
    'section',
    { class: 'sheet unfinished' },
    el('h2', {}, 'Recordings that were not ended'),
    el('p', {}, 'The program or the page was stopped while it was recording. What was said until then is on the disk.'),
    el('ul', { class: 'plain' }, part.dictation.unfinished.map(line)),
  );
}

async function drop(part, recording, again) {
  try {
    const content = el(
      'p',
      {},
      `The recording of ${moment(recording.began)} (${clock(recording.length_ms)}) is deleted for good. There is no draft of it.`,
    );
    const done = () => api.dropDictation(recording.id);
    const gone = await dialog({ title: 'Delete this recording?', content, go: 'Delete it', done });
    if (gone) await again();
  } catch (error) {
    part.app.trouble(error.message);
  }
}
