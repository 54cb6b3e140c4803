// During a dictation: what was found, what is left, what is being said, whether it records. Nothing must be touched.
// Takes the first order and the microphone; shows what the program tells. Leaves alone what a finding is, and the sound's way
// (`microphone`, `line`).
import * as aloud from './aloud.js';
import * as awake from './awake.js';
import * as board from './board.js';
import { tail, tally } from './board-model.js';
import { open as dialog } from './dialog.js';
import { button, el, fill } from './dom.js';
import * as line from './line.js';
import { listen } from './microphone.js';
import * as over from './dictate-over.js';
import * as tones from './tones.js';
import { clock } from './words.js';

const TROUBLE_MS = 20_000;
/** When something was heard last, for the page that is loaded again. */
const HEARD_AT = 'heard-at';

/** Shows it; `sound` is null where a recording is listened to that is there already. Gives `{keys, leave}`. */
export function show(app, dictation, first, sound, { began, refused, done }) {
  document.body.dataset.view = 'dictating';
  app.trouble('');
  fill(app.head);
  fill(app.foot);
  const part = {
    app,
    dictation,
    began,
    refused,
    done,
    findings: [],
    kept: 0,
    said: '',
    guess: '',
    paused: false,
    behind: 0,
  };
  Object.assign(part, { troubles: new Map(), ready: false, ended: false, timers: new Set() });
  part.board = board.make(hint(dictation));
  part.over = over.make();
  lay(part, sound !== null);
  // The microphone is opened with the line, so that nothing is missed while the program gets ready.
  part.line = line.open({
    first,
    told: (message) => told(part, message),
    trouble: (words) => trouble(part, 'line', words),
  });
  if (sound)
    part.ear = listen({
      device: sound.device,
      take: (block) => {
        part.line.sound(block);
        sessionStorage.setItem(HEARD_AT, String(Date.now()));
      },
      // Nothing is missing of a pause.
      away: (ms) => part.paused || part.line.order('away', { ms }),
      heardAt: first.order === 'rejoin' ? Number(sessionStorage.getItem(HEARD_AT)) || null : null,
      trouble: (words, deaf) => {
        part.deaf = deaf;
        trouble(part, 'microphone', words);
      },
    });
  awake.keep(true);
  addEventListener('beforeunload', staying);
  const leave = () => end(part);
  if (!sound) part.over.final(0, 0);
  status(part);
  return { keys: sound ? keys(part) : {}, leave };
}

function staying(event) {
  event.preventDefault();
}

function end(part) {
  if (part.ended) return;
  part.ended = true;
  aloud.stop();
  part.ear?.stop();
  part.line.close();
  part.board.end();
  for (const timer of part.timers) clearTimeout(timer);
  awake.keep(false);
  removeEventListener('beforeunload', staying);
}

function keys(part) {
  const order = (name) => () => part.line.order(name);
  return {
    p: () => part.line.order(part.paused ? 'resume' : 'pause'),
    m: order('mark'),
    t: order('take-back'),
    l: order('left'),
    e: () => ask(part),
    s: () => part.tones.click(),
    Escape: () => part.over.close(),
  };
}

function lay(part, orders) {
  const { app } = part;
  part.status = el('div', { class: 'status' });
  part.trouble = el('div', { class: 'troubles', role: 'alert' });
  part.words = el(
    'div',
    { class: 'words' },
    el('p', { class: 'said' }),
    el('p', { class: 'guess', 'aria-hidden': 'true' }),
  );
  part.pause = el('div', { class: 'pause-place' });
  const does = keys(part);
  part.hold = button('Pause', does.p, { key: 'p', kind: 'hold' });
  part.tones = button(
    '',
    () => {
      tones.switchTo(!tones.isOn());
      tonesWords(part);
    },
    { key: 's' },
  );
  const bar = el(
    'div',
    { class: 'orders-bar' },
    part.hold,
    button('What is left?', does.l, { key: 'l' }),
    button('Mark', does.m, { key: 'm' }),
    button('Take back', does.t, { key: 't' }),
    part.tones,
    button('End', does.e, { key: 'e', kind: 'end' }),
  );
  tonesWords(part);
  fill(
    app.main,
    el(
      'div',
      { class: 'dictating' },
      el('h1', { class: 'unseen' }, 'Dictation'),
      part.status,
      part.trouble,
      part.pause,
      el('div', { class: 'stage' }, part.board.element, part.over.aside),
      part.words,
      orders ? bar : null,
      part.over.element,
    ),
  );
}

function tonesWords(part) {
  part.tones.firstChild.textContent = tones.isOn() ? 'Tones are on' : 'Tones are off';
  part.tones.setAttribute('aria-pressed', String(tones.isOn()));
}

function hint({ attention, orders }) {
  const phrases = orders.filter((order) => ['what-is-left', 'take-back', 'pause', 'end'].includes(order.name));
  return el(
    'div',
    { class: 'hint' },
    el('p', {}, 'Say what you do and what you find.'),
    el('p', {}, `“${attention}” speaks to the program:`),
    el(
      'ul',
      { class: 'plain' },
      phrases.map((order) => el('li', {}, `“${order.phrase}”`)),
    ),
  );
}

const TOLD = {
  ready(part, { id, kept_ms: kept }) {
    part.ready = true;
    part.kept = kept;
    part.began(id);
    status(part);
  },
  level(part, { kept_ms: kept }) {
    part.kept = kept;
    status(part);
  },
  guess(part, { words }) {
    part.guess = words;
    if (words) part.over.words();
    spoken(part);
  },
  said(part, { words, order }) {
    part.said = words;
    part.isOrder = order;
    part.guess = '';
    if (!order) part.over.words();
    spoken(part);
  },
  draft(part, { findings, left, first }) {
    part.findings = findings;
    part.board.show(findings, left);
    status(part);
    const newest = findings.filter((finding) => finding.newest);
    // What a page is told that comes back was heard of before.
    if (newest.length > 0 && !first) tones.play(newest.some((finding) => finding.reasons.length > 0) ? 'eye' : 'taken');
  },
  answer(part, { title, lines, aloud: words }) {
    part.over.answer(title, lines);
    tones.play('order');
    aloud.speak(words, {
      begins: () => part.line.order('speaking-begins'),
      ends: () => part.line.order('speaking-ends'),
    });
  },
  paused(part, { is, first }) {
    part.paused = is;
    if (!first) tones.play('order');
    paused(part);
  },
  marked(part, { at_ms: at }) {
    part.over.note('Marked', `this moment, at ${clock(at)}`);
    tones.play('order');
  },
  'taken-back'(part, { words }) {
    part.over.note('Taken back', words || 'nothing: there was nothing to take back');
    tones.play('order');
  },
  'not-understood'(part, { words }) {
    part.over.note('Not understood', words ? `“${words}”` : 'say it again', true);
    tones.play('eye');
  },
  behind(part, { ms }) {
    part.behind = ms;
    status(part);
  },
  ending(part) {
    part.ear?.stop();
    part.over.final(0, 0);
    part.ending = true;
    removeEventListener('beforeunload', staying);
    status(part);
  },
  final(part, { done_ms: at, total_ms: all }) {
    if (!part.ending) TOLD.ending(part);
    part.over.final(at, all);
  },
  trouble(part, { words }) {
    const key = `told ${words}`;
    trouble(part, key, words);
    part.timers.add(setTimeout(() => trouble(part, key, ''), TROUBLE_MS));
  },
  record(part, { id }) {
    end(part);
    part.done(id);
  },
  left(part, { words }) {
    end(part);
    part.refused(words);
  },
  refused(part, { words }) {
    end(part);
    part.refused(words);
  },
};

function told(part, message) {
  if (!part.ended) TOLD[message.kind]?.(part, message);
}

function status(part) {
  const { found, eye } = tally(part.findings);
  const [kind, shape, words] = mark(part);
  document.title = `${shape} ${words} – spoken-exam`;
  fill(
    part.status,
    el(
      'p',
      { class: `mark ${kind}` },
      el('span', { class: 'shape', 'aria-hidden': 'true' }, shape),
      ` ${words} `,
      el('span', { class: 'so-long' }, clock(part.kept)),
    ),
    part.behind >= 1000 ? el('p', { class: 'behind' }, `hearing is ${Math.round(part.behind / 1000)} s behind`) : null,
    el(
      'div',
      { class: 'so-far' },
      el(
        'p',
        { class: 'tally' },
        el('strong', {}, String(found)),
        ' found',
        eye > 0 ? [', ', el('strong', {}, String(eye)), ' to check'] : null,
      ),
      el('p', { class: 'draft-word', title: 'Made by software from speech, confirmed by nobody' }, 'DRAFT'),
    ),
  );
}

function mark(part) {
  if (part.ending || !part.ear) return ['ending', '■', 'Recorded'];
  if (!part.ready) return ['waiting', '○', 'Getting ready …'];
  if (part.troubles.has('line')) return ['failing', '✖', 'Held in this page'];
  if (part.deaf) return ['failing', '✖', 'Not recording'];
  if (part.paused) return ['paused', '‖', 'Paused'];
  return ['recording', '●', 'Recording'];
}

function spoken(part) {
  const [said, guess] = part.words.children;
  const letters = (place) => Math.floor(place.clientWidth / (parseFloat(getComputedStyle(place).fontSize) * 0.56));
  fill(
    said,
    part.isOrder ? el('span', { class: 'to-program' }, '➤ to the program: ') : null,
    tail(part.said, letters(said)),
  );
  fill(guess, tail(part.guess, letters(guess)));
}

function paused(part) {
  const { attention, orders } = part.dictation;
  const phrase = orders.find((order) => order.name === 'resume')?.phrase ?? attention;
  document.body.classList.toggle('is-paused', part.paused);
  part.hold.firstChild.textContent = part.paused ? 'Go on' : 'Pause';
  fill(
    part.pause,
    part.paused
      ? el(
          'p',
          { class: 'pause-words', role: 'status' },
          el('strong', {}, '‖ Paused.'),
          ` Nothing that is said is kept. To go on: “${phrase}”`,
        )
      : null,
  );
  status(part);
}

function trouble(part, key, words) {
  if (part.ended || (part.troubles.get(key) ?? '') === words) return;
  if (words) part.troubles.set(key, words);
  else part.troubles.delete(key);
  fill(
    part.trouble,
    [...new Set(part.troubles.values())].map((said) => el('p', {}, el('span', { 'aria-hidden': 'true' }, '✖ '), said)),
  );
  status(part);
}

async function ask(part) {
  const content = el('p', {}, 'Then the program listens to all of it again, makes the draft, and opens it for review.');
  if (await dialog({ title: 'End the dictation?', content, go: 'End it', cancel: 'Go on' })) part.line.order('end');
}
