// The board: what was found by region, newest first, and what is left. Read by somebody who stands two metres away.
// Takes findings and what is left; fills its two places, so that nothing must be scrolled: what is oldest is shortened first.
// New, and for the eye, are told by a shape and a word beside the tone.
import { left as leftOf, regions as regionsOf, rooms, shown, sidesWords } from './board-model.js';
import { el, fill } from './dom.js';
import { capital } from './words.js';

/** As long as there is room for all of it, it is as large as it can be. */
const SIZES = ['largest', 'large', 'plain'];

/** So many rows of what was just spoken of are shown before the other regions are counted one by one. */
const LEAST = 3;

/** Makes a board. `hint` is what stands on it while nothing was found. */
export function make(hint) {
  const found = el('section', { class: 'found', 'aria-label': 'Found' });
  const open = el('section', { class: 'to-do', 'aria-label': 'Still to do' });
  const live = el('div', { class: 'unseen', 'aria-live': 'polite' });
  const board = {
    element: el('div', { class: 'board' }, found, open, live),
    found,
    open,
    live,
    hint,
    findings: [],
    left: null,
  };
  const again = () => draw(board);
  const watch = new ResizeObserver(again);
  watch.observe(board.element);
  return {
    element: board.element,
    show(findings, left) {
      board.findings = findings;
      board.left = left;
      again();
      announce(board);
    },
    end: () => watch.disconnect(),
  };
}

function draw(board) {
  const regions = regionsOf(board.findings);
  if (regions.length === 0) {
    board.found.dataset.size = 'large';
    fill(board.found, board.hint);
  } else drawFound(board, regions);
  if (board.left) drawLeft(board, leftOf(board.left, regions));
}

function drawFound({ found }, regions) {
  const put = (room, isCounted = false) => {
    const whole = regions.map((region, at) => ({ region, room: room[at] }));
    const short = whole.filter((of) => of.room === 0).map((of) => of.region);
    fill(
      found,
      whole.filter((of) => of.room > 0).map((of) => regionShown(of.region, of.room)),
      short.length > 0
        ? el('ul', { class: 'short plain' }, isCounted ? elsewhere(short) : short.map(shortShown))
        : null,
    );
    return found.scrollWidth <= found.clientWidth && found.scrollHeight <= found.clientHeight;
  };
  const all = regions.map((region) => region.rows.length);
  for (const size of SIZES) {
    found.dataset.size = size;
    if (put(all)) return;
  }
  const room = rooms(regions, put);
  if (put(room) && room[0] >= Math.min(LEAST, regions[0].rows.length)) return;
  // What was just said counts for more than where the rest is.
  put(
    rooms(regions, (more) => put(more, true)),
    true,
  );
}

function elsewhere(regions) {
  const sum = (of) => regions.reduce((all, region) => all + region[of], 0);
  return shortShown({ region: 'elsewhere', count: sum('count'), eye: sum('eye') });
}

function regionShown(region, room) {
  const rows = shown(region, room);
  const hidden = region.rows.length - rows.length;
  return el(
    'article',
    { class: 'found-in' },
    el('h2', {}, capital(region.region), el('span', { class: 'sum' }, String(region.count))),
    el(
      'ul',
      { class: 'plain' },
      rows.map(rowShown),
      hidden > 0 ? el('li', { class: 'more' }, `and ${hidden} more`) : null,
    ),
  );
}

function shortShown(region) {
  return el(
    'li',
    {},
    el('span', {}, `${capital(region.region)} `, el('strong', {}, String(region.count))),
    region.eye > 0 ? sign('eye', '▲', `${region.eye} to check`) : null,
  );
}

function rowShown(row) {
  return el(
    'li',
    { class: `row-found${row.newest ? ' newest' : ''}` },
    el('span', { class: 'what' }, row.name, ' '),
    row.parts.map(partShown),
  );
}

function partShown(part) {
  const sides = sidesWords(part.sides);
  const eye = part.reasons.length > 0;
  return el(
    'span',
    { class: `said-part${eye ? ' for-eye' : ''}` },
    sides ? el('span', { class: 'which' }, `${sides}: `) : null,
    el('strong', {}, `${part.approx ? 'about ' : ''}${part.words}`),
    part.newest ? sign('new', '◆', 'new') : null,
    eye ? sign('eye', '▲', `check: ${part.reasons.join(', ')}`) : null,
  );
}

function sign(kind, shape, words) {
  return el('span', { class: `sign ${kind}` }, el('span', { 'aria-hidden': 'true' }, shape), ` ${words}`);
}

function drawLeft(board, regions) {
  const { open } = board;
  const all = regions.reduce((sum, region) => sum + region.count, 0);
  const head = el(
    'h2',
    {},
    all > 0 ? 'Still to do' : 'Nothing more to do',
    all > 0 ? el('span', { class: 'sum' }, String(all)) : null,
  );
  const lines = regions.map(leftShown);
  fill(open, head, el('ul', { class: 'plain' }, lines));
  const fits = () => open.scrollHeight <= open.clientHeight;
  // Names where there is room, those of the region that is being spoken of first.
  for (const [at, region] of regions.entries()) {
    const names = el('span', { class: 'names' }, region.items.join(', '));
    lines[at].append(names);
    if (!fits()) names.remove();
  }
  while (!fits() && lines.length > 1) {
    lines.pop().remove();
    const rest = regions.slice(lines.length).reduce((sum, region) => sum + region.count, 0);
    open.querySelector('.more')?.remove();
    open.append(el('p', { class: 'more' }, `${rest} elsewhere`));
  }
}

function leftShown(region) {
  return el('li', {}, el('span', {}, `${capital(region.region)} `), el('span', { class: 'sum' }, String(region.count)));
}

function announce(board) {
  const told = regionsOf(board.findings.filter((finding) => finding.newest)).flatMap((region) => region.rows);
  const words = told.flatMap((row) => row.parts.map((part) => partWords(row, part)));
  const text = words.length > 0 ? `New: ${words.join('; ')}` : '';
  if (text && text !== board.live.textContent) board.live.textContent = text;
}

function partWords(row, part) {
  const eye = part.reasons.length > 0 ? `, check: ${part.reasons.join(', ')}` : '';
  return `${row.name} ${sidesWords(part.sides)} ${part.approx ? 'about ' : ''}${part.words}${eye}`;
}
