// The section of what was reckoned from the findings: ages, sizes for age with their charts, left beside right.
// Takes a record; gives elements. Every figure stands with what it rests on; what is missing says why. Leaves alone how it was
// reckoned, and what it means.
import { differenceWords, figureWords, oneSidedWords, size } from './beside.js';
import { computedLabel, source } from './cited.js';
import { el } from './dom.js';
import { later } from './later.js';
import { capital } from './words.js';

/** The section; `ask.kept` holds what was fetched for it. */
export function section(record, ask) {
  const { computed } = record;
  return el(
    'section',
    { class: 'part computed', 'aria-labelledby': 'computed-head' },
    later({
      keep: 'computed',
      summary: [
        el('h2', { id: 'computed-head' }, 'Computed'),
        el('span', { class: 'quiet' }, ` ${inShort(computed) || 'no age, no size'}`),
      ],
      content: [what(computed), ages(computed), sizes(computed), sides(computed)],
      load: async (place) => (await import('./chart.js')).show(place, record, ask.kept),
    }),
  );
}

function inShort({ ages: all, sizes: measured }) {
  const figures = measured.filter((one) => one.z !== null).map((one) => `${one.name} ${figureWords(one)}`);
  return [...all.map((age) => `${age.kind} ${age.words}`), ...figures].join('; ');
}

// The hash is there to tell rules apart; its beginning does.
function what({ what: words, rules }) {
  const short = rules.replace(/\b([0-9a-f]{12})[0-9a-f]{20,}\b/g, '$1…');
  return el(
    'p',
    { class: 'quiet' },
    computedLabel(),
    ` ${capital(words.replace(/^computed /, ''))}. By ${short.replace(/[^….]$/, '$&.')}`,
  );
}

function ages({ ages: all, no_ages: missing }) {
  const lines = all.map((age) =>
    el('div', {}, el('dt', {}, capital(age.kind)), el('dd', {}, el('strong', {}, age.words), notesWords(age.notes))),
  );
  return [
    el('h3', {}, 'Ages'),
    lines.length > 0 ? el('dl', { class: 'figures' }, lines) : null,
    missing.length > 0
      ? el(
          'ul',
          {},
          missing.map((words) => el('li', {}, `${capital(words)}.`)),
        )
      : null,
    [...new Set(all.map((age) => age.source))].map(source),
  ];
}

function notesWords(notes) {
  return notes.length > 0 ? el('span', { class: 'quiet' }, ` ${notes.join('; ')}`) : null;
}

function sizes({ sizes: all }) {
  const lines = all.map((one) =>
    el('div', {}, el('dt', {}, `${capital(one.name)} ${one.value}`), el('dd', {}, size(one))),
  );
  return [
    el('h3', {}, 'Size for age'),
    lines.length > 0 ? el('dl', { class: 'figures' }, lines) : el('p', {}, 'Nothing was measured.'),
  ];
}

function sides({ differences, one_sided: alone }) {
  const lines = [
    ...differences.map((one) => [one.name, differenceWords(one)]),
    ...alone.map((one) => [one.name, oneSidedWords(one)]),
  ];
  return [
    el('h3', {}, 'Left and right'),
    lines.length > 0
      ? el(
          'ul',
          {},
          lines.map(([name, words]) => el('li', {}, el('strong', {}, capital(name)), `: ${words}`)),
        )
      : el('p', {}, 'Where both sides were told, they are alike.'),
    lines.length > 0 ? source('the findings of the two sides, as they stand') : null,
  ];
}
