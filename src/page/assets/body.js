// The drawing of the infant: which region holds what, by side.
// Takes the record; gives the drawing and its legend. It shows how far the review is, and never whether a finding is normal.
import { el } from './dom.js';
import { placeState, places } from './model.js';
import { capital } from './words.js';

let drawn = null;

/** Reads the drawing once; it is a file of the program and holds no data. */
export async function load() {
  const text = await (await fetch('/assets/body.svg', { credentials: 'same-origin' })).text();
  drawn = new DOMParser().parseFromString(text, 'image/svg+xml').documentElement;
}

const STATES = {
  eye: 'needs your eye',
  clear: 'clear, undecided',
  decided: 'decided',
  nothing: 'not mentioned',
};

/** The drawing with its boxes; `go(region)` is what a click does. */
export function body(record, app, go) {
  const found = places(record, app.lexicon);
  const svg = document.importNode(drawn, true);
  const shown = new Set();
  for (const part of svg.querySelectorAll('[data-region]')) {
    const { region, side } = part.dataset;
    shown.add(region);
    const place = found.get(`${region}|${side ?? ''}`);
    part.setAttribute('class', `place ${placeState(place)}${place?.differs ? ' differs' : ''}`);
    part.addEventListener('click', () => go(region));
  }
  const names = [...new Set([...app.lexicon.regions, ...record.findings.map((finding) => finding.region)])];
  const tiles = names.map((name) => tile(name, found.get(`${name}|`), go));
  return el(
    'details',
    { class: 'map', data: { keep: 'map' } },
    el('summary', {}, 'By region'),
    el(
      'div',
      { class: 'map-parts' },
      el('div', { class: 'figure-place' }, svg),
      el('ul', { class: 'tiles' }, tiles),
      legend(),
    ),
  );
}

function tile(name, place, go) {
  const state = placeState(place);
  const words = place && place.eye + place.clear + place.decided > 0 ? tally(place) : 'not mentioned';
  return el(
    'li',
    {},
    el(
      'button',
      { type: 'button', class: `tile ${state}`, on: { click: () => go(name) } },
      el('span', { class: `swatch ${state}`, 'aria-hidden': 'true' }),
      el(
        'span',
        {},
        el('strong', {}, capital(name)),
        el('span', { class: 'quiet' }, words),
        place?.differs ? el('span', { class: 'differs' }, 'left and right differ') : null,
      ),
    ),
  );
}

function tally(place) {
  const parts = [
    ['eye', 'for your eye'],
    ['clear', 'clear'],
    ['decided', 'decided'],
  ];
  return parts
    .filter(([kind]) => place[kind] > 0)
    .map(([kind, words]) => `${place[kind]} ${words}`)
    .join(', ');
}

function legend() {
  const lines = Object.entries(STATES).map(([state, words]) =>
    el('li', {}, el('span', { class: `swatch ${state}`, 'aria-hidden': 'true' }), words),
  );
  lines.push(el('li', {}, el('span', { class: 'swatch differs', 'aria-hidden': 'true' }), 'left and right differ'));
  return el('ul', { class: 'key plain' }, lines);
}
