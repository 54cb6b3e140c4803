// The values behind the page, without a browser: rows, order, counts, marks.
import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { test } from 'node:test';
import * as board from '../../src/page/assets/board-model.js';
import * as model from '../../src/page/assets/model.js';

const LEXICON = {
  regions: ['infant', 'arms', 'legs'],
  byId: new Map([
    ['angle', { paired: true }],
    ['sex', { paired: false }],
    ['state', { paired: false }],
  ]),
};

function finding(id, item, region, side, value, more = {}) {
  return {
    id,
    item,
    name: item,
    region,
    side,
    value,
    reasons: [],
    clear: true,
    decision: null,
    evidence: {},
    now: { side, value },
    ...more,
  };
}

const doubted = { clear: false, reasons: [{ id: 'hedged', words: 'hedged' }] };
const RECORD = {
  findings: [
    finding('d1', 'sex', 'infant', 'none', 'male', { context: true }),
    finding('d2', 'angle', 'arms', 'left', '90deg'),
    finding('d3', 'angle', 'arms', 'right', '110deg', doubted),
    finding('d4', 'state', 'legs', 'none', 'asleep'),
    finding('a9', 'state', 'legs', 'none', 'awake', { evidence: null, decision: { kind: 'added', entry: 9 } }),
  ],
};

test('an item with one doubtful side stands where the eye is needed, right before left', () => {
  const parts = model.sections(RECORD, LEXICON);
  assert.deepEqual(
    parts.eye.map((row) => row.item),
    ['angle'],
  );
  assert.deepEqual(
    parts.regions.map((region) => region.name),
    ['infant', 'legs'],
  );
  assert.deepEqual(model.order(parts), ['d3', 'd2', 'd1', 'd4', 'a9']);
});

test('each finding counts once, and the next undecided one is found around the end', () => {
  assert.deepEqual(model.counts(RECORD), { eye: 1, clear: 3, decided: 1, open: 4 });
  const ids = model.order(model.sections(RECORD, LEXICON));
  assert.equal(model.nextOpen(RECORD, ids, 'd4'), 'd3');
  assert.equal(model.nextOpen(RECORD, ids, null), 'd3');
  assert.equal(model.nextOpen({ findings: [] }, ids, 'd4'), null);
});

test('left and right differ only where both stand', () => {
  const row = (right) => ({
    paired: true,
    findings: [RECORD.findings[1], finding('d3', 'angle', 'arms', 'right', '90deg', right)],
  });
  assert.equal(model.differs(row({})), false);
  assert.equal(model.differs(row({ now: { side: 'right', value: '95deg' } })), true);
  assert.equal(model.differs(row({ now: null })), false);
  assert.equal(model.differs({ paired: true, findings: [RECORD.findings[1]] }), false);
});

test('a finding stands on the side it was changed to', () => {
  const moved = finding('d2', 'angle', 'arms', 'left', '90deg', { now: { side: 'right', value: '90deg' } });
  assert.deepEqual(
    model.onSide({ findings: [moved] }, 'right').map((found) => found.id),
    ['d2'],
  );
  assert.equal(model.sideOf({ side: 'left', now: null }), 'left');
});

test('a place of the drawing shows the most pressing of what it holds', () => {
  const places = model.places(RECORD, LEXICON);
  assert.equal(model.placeState(places.get('arms|right')), 'eye');
  assert.equal(model.placeState(places.get('arms|left')), 'clear');
  assert.equal(model.placeState(places.get('infant|')), 'clear');
  assert.equal(model.placeState(places.get('neck|')), 'nothing');
  assert.equal(places.get('arms|left').differs, true);
  assert.equal(places.get('legs|left').differs, false);
});

test('a line is cut where marks begin and end, and loses no letter', () => {
  const spans = [
    { kind: 'quote', start: 0, end: 9 },
    { kind: 'value', start: 4, end: 9 },
    { kind: 'side', start: null, end: null },
  ];
  const pieces = model.marked('Tone low, left 👶', spans);
  assert.deepEqual(
    pieces.map((piece) => piece.text),
    ['Tone', ' low,', ' left 👶'],
  );
  assert.deepEqual(
    pieces.map((piece) => piece.marks),
    [['quote'], ['quote', 'value'], []],
  );
});

const read = (name) => readFileSync(new URL(name, new URL('../../src/page/assets/', import.meta.url)), 'utf8');

/** Every module that one needs, through others too. */
function neededBy(name, needed = new Set()) {
  for (const [, other] of read(name).matchAll(/^import [^;]*'\.\/([^']+)';$/gm)) {
    if (needed.has(other)) continue;
    needed.add(other);
    neededBy(other, needed);
  }
  return needed;
}

test('a dictation has nothing of prompts: parents read its screen', () => {
  const needed = neededBy('dictate.js');
  assert.ok(needed.has('board.js') && needed.has('dom.js'));
  assert.deepEqual(
    ['prompts.js', 'beside.js', 'computed.js', 'record.js'].filter((name) => needed.has(name)),
    [],
  );
});

test('the document asks at once for every module of list and record; the rest comes when it is wanted', () => {
  const needed = neededBy('app.js');
  const asked = [...read('index.html').matchAll(/modulepreload" href="\/assets\/([^"]+)"/g)].map((found) => found[1]);
  assert.deepEqual(asked, [...needed].sort());
  assert.ok(needed.size > 20 && !['dictate.js', 'earlier.js', 'chart.js'].some((name) => needed.has(name)));
});

test('a review begins at what needs the eye, else at what is undecided', () => {
  const doubtful = (id) => ({ findings: RECORD.findings.map((one) => ({ ...one, clear: one.id !== id })) });
  const began = (record) => model.firstOpen(record, model.order(model.sections(record, LEXICON)));
  // The right side stands before the left one; what needs the eye is still the first.
  assert.equal(began(doubtful('d2')), 'd2');
  assert.equal(began(doubtful('d3')), 'd3');
  assert.equal(began(doubtful('none')), 'd1');
  assert.equal(began({ findings: RECORD.findings.map((one) => ({ ...one, decision: {} })) }), null);
});

const told = (item, region, side, words, at, more = {}) => ({
  item,
  name: item,
  region,
  side,
  words,
  at,
  reasons: [],
  newest: false,
  ...more,
});

test('what was spoken of last comes first; left and right that are alike are one', () => {
  const found = [
    told('angle', 'arms', 'left', '90°', 1000),
    told('angle', 'arms', 'right', '90°', 1000),
    told('jerk', 'legs', 'left', 'brisk', 3000, { reasons: ['side unstated'] }),
    told('jerk', 'legs', 'right', 'brisk', 3000),
    told('recoil', 'arms', 'left', 'slow', 2000),
  ];
  const regions = board.regions(found);
  assert.deepEqual(
    regions.map(({ region, count, eye }) => [region, count, eye]),
    [
      ['legs', 2, 1],
      ['arms', 3, 0],
    ],
  );
  assert.deepEqual(
    regions[1].rows.map(({ item }) => item),
    ['recoil', 'angle'],
  );
  assert.deepEqual(
    regions[1].rows[1].parts.map(({ sides }) => sides),
    [['left', 'right']],
  );
  // One of them needs the eye and the other does not: they are not alike.
  assert.equal(regions[0].rows[0].parts.length, 2);
  // A correction makes new what was said long ago.
  assert.equal(board.regions([...found, told('tone', 'neck', 'none', 'good', 10, { newest: true })])[0].region, 'neck');
});

test('where there is little room the oldest regions are counted, and what is new and what needs the eye is shown first', () => {
  const found = Array.from({ length: 12 }, (_, at) =>
    told(`i${at}`, `r${Math.floor(at / 4)}`, 'none', 'x', at * 100, { reasons: at === 8 ? ['hedged'] : [] }),
  );
  const regions = board.regions(found);
  const room = (most) => board.rooms(regions, (rooms) => rooms.reduce((sum, rows) => sum + rows) <= most);
  assert.deepEqual(room(100), [4, 4, 4]);
  assert.deepEqual(room(6), [4, 2, 0]);
  assert.deepEqual(room(0), [1, 0, 0], 'the newest is always shown');
  assert.deepEqual(
    board.shown(regions[0], 2).map(({ item }) => item),
    ['i11', 'i8'],
  );
});

test('what is left begins where somebody is, and shrinks', () => {
  const left = [
    { region: 'head', items: ['shape'] },
    { region: 'arms', items: [] },
    { region: 'legs', items: ['jerk', 'tone right'] },
  ];
  const regions = board.regions([told('jerk', 'legs', 'left', 'brisk', 1)]);
  assert.deepEqual(
    board.left(left, regions).map(({ region, count }) => [region, count]),
    [
      ['legs', 2],
      ['head', 1],
    ],
  );
});

test('of what is being said the end is shown', () => {
  assert.equal(board.tail('to the midline', 20), 'to the midline');
  assert.equal(board.tail('the scarf sign comes to the midline', 20), '… to the midline');
});
