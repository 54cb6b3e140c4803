// The values behind the page, without a browser: rows, order, counts, marks.
import assert from 'node:assert/strict';
import { readFileSync, readdirSync } from 'node:fs';
import { test } from 'node:test';
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

test('the document asks for every module at once', () => {
  const folder = new URL('../../src/page/assets/', import.meta.url);
  const modules = readdirSync(folder)
    .filter((name) => name.endsWith('.js') && name !== 'app.js')
    .sort();
  const asked = [
    ...readFileSync(new URL('index.html', folder), 'utf8').matchAll(/modulepreload" href="\/assets\/([^"]+)"/g),
  ];
  assert.deepEqual(
    asked.map((found) => found[1]),
    modules,
  );
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
