// By keyboard alone: how many presses a record takes, and that every action has its key.
import assert from 'node:assert/strict';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before, test } from 'node:test';
import { confirmAll, open, record, says, shot, stage, undecided, until, visit } from './stage.mjs';

let on;
let folder;
before(async () => {
  folder = mkdtempSync(join(tmpdir(), 'spoken-exam-keys-'));
  writeFileSync(join(folder, 'no-side.txt'), 'Scarf sign to the midline.\n');
  on = await stage(['samples/bedside-round.txt', 'samples/quick-term-boy.txt', join(folder, 'no-side.txt')]);
});
after(async () => {
  await on?.end();
  rmSync(folder, { recursive: true });
});

/** Presses keys and counts them. */
function counter(page) {
  const keys = {
    pressed: 0,
    press: async (key) => {
      keys.pressed += 1;
      await page.keyboard.press(key);
    },
  };
  return keys;
}

test('a record is reviewed and signed by no more than 60 key presses', async (t) => {
  const page = await visit(on);
  const keys = counter(page);
  const search = async (words) => {
    for (const letter of words) await keys.press(letter);
  };
  await keys.press('/');
  await search('bed');
  await page.waitForFunction(() => document.querySelectorAll('.records a').length === 1);
  await keys.press('Tab');
  while (!(await page.evaluate(() => document.activeElement.matches('.records a')))) await keys.press('Tab');
  await keys.press('Enter');
  await page.waitForSelector('.finding[aria-current]');
  const id = await page.evaluate(() => location.hash.slice(2));
  const draft = await record(page, id);
  const eye = draft.findings.filter((finding) => !finding.clear);

  // One of those that need the eye is changed; all others are confirmed.
  await keys.press('c');
  await page.locator('dialog[open]').waitFor();
  const other = await page.evaluate(() => {
    const picks = [...document.querySelectorAll('dialog .values .pick')];
    return picks.find((pick) => !pick.querySelector('input').checked).querySelector('kbd').textContent;
  });
  if (
    await page.evaluate(
      () => document.querySelector('dialog .sides') && !document.querySelector('dialog .sides :checked'),
    )
  )
    await keys.press('l');
  await keys.press(other);
  await keys.press('Enter');
  await says(page, 'Changed:');
  await keys.press('Shift+A');
  await says(page, 'confirmed.');
  await confirmAll(page, id, keys.press);
  await keys.press('s');
  await page.getByRole('dialog', { name: 'Sign this record' }).waitFor();
  await keys.press('Enter');
  await says(page, 'Version 1 is signed');
  t.diagnostic(
    `${draft.findings.length} findings, ${eye.length} for the eye, one changed: ${keys.pressed} key presses from the list to the signature`,
  );
  assert.ok(draft.findings.length >= 25, `${draft.findings.length} findings`);
  assert.ok(keys.pressed <= 60, `${keys.pressed} key presses`);
  await page.done();
});

test('keys that come faster than the program answers are not lost', async () => {
  const page = await visit(on);
  const id = await open(page, 'quick-term-boy');
  const before = await undecided(page, id);
  // Held down it decides one; pressed eight times it decides eight.
  await page.keyboard.down('Enter');
  for (let times = 3; times > 0; times -= 1) await page.keyboard.down('Enter');
  await page.keyboard.up('Enter');
  for (let times = 7; times > 0; times -= 1) await page.keyboard.press('Enter');
  await until(async () => (await undecided(page, id)) === before - 8, 'eight confirmed');
  for (let times = 8; times > 0; times -= 1) await page.keyboard.press('u');
  await until(async () => (await undecided(page, id)) === before, 'all of them taken back');
  assert.equal((await record(page, id)).seen, 16, 'eight confirmations and eight times undone, and nothing else');
  await page.done();
});

test('all clear ones are confirmed by one key and taken back by one', async () => {
  const page = await visit(on);
  const id = await open(page, 'quick-term-boy');
  const draft = await record(page, id);
  const eye = draft.findings.filter((finding) => !finding.clear).map((finding) => finding.id);
  await page.keyboard.press('a');
  await page.getByRole('dialog', { name: 'Add a finding' }).waitFor();
  await page.keyboard.press('Escape');
  await page.keyboard.press('Shift+A');
  await says(page, 'confirmed.');
  const now = await record(page, id);
  assert.deepEqual(
    now.findings.filter((finding) => !finding.decision).map((finding) => finding.id),
    eye,
    'what needs the eye stays open',
  );
  await page.keyboard.press('s');
  await page.getByRole('dialog', { name: 'Not yet: something is undecided' }).waitFor();
  await shot(page, 'refused');
  await page.keyboard.press('Enter');
  await page.locator('dialog').waitFor({ state: 'detached' });
  assert.equal((await record(page, id)).signatures.length, 0);
  await page.keyboard.press('u');
  await says(page, 'Undone:');
  assert.equal(await undecided(page, id), draft.findings.length);
  await page.done();
});

test('a finding is added by keys, and what was not mentioned is said to be not tested', async () => {
  const page = await visit(on, '#/', { allow: ['status of 422'] });
  const id = await open(page, 'quick-term-boy');
  const draft = await record(page, id);
  const lexicon = await page.evaluate(async () => (await fetch('/api/lexicon')).json());
  const silent = draft.not_mentioned.map((item) => lexicon.items.find((known) => known.id === item.item));
  const counted =
    silent.find((item) => item.units.length > 0) ?? lexicon.items.find((item) => item.units.includes('cm'));
  await page.keyboard.press('a');
  await page.keyboard.type(counted.name);
  await page.keyboard.press('Enter');
  if (counted.paired) {
    await page.keyboard.press('l');
    await page.locator('dialog .figure').focus();
  }
  await page.keyboard.type('12..3');
  await page.keyboard.press('Enter');
  await page.locator('dialog .wrong', { hasText: `is no value of ${counted.name}.` }).waitFor();
  await shot(page, 'add');
  await page.locator('dialog .figure').fill('');
  await page.keyboard.type('12');
  await page.keyboard.press('Enter');
  await says(page, `Added: ${counted.name}`);
  const counts = (await record(page, id)).findings.find(
    (finding) => finding.item === counted.id && finding.decision?.kind === 'added',
  );
  assert.equal(counts.now.value, `12${counted.units[0]}`);
  const one = silent.find((item) => !item.paired && item.values.some((value) => value.id === 'not-tested'));
  await page.locator('.silent details', { hasText: one.name }).first().locator('summary').focus();
  await page.keyboard.press('Enter');
  await page.getByRole('button', { name: `Not tested ${one.name}`, exact: true }).focus();
  await page.keyboard.press('Enter');
  await says(page, `Added: ${one.name}`);
  const added = (await record(page, id)).findings.find((finding) => finding.item === one.id);
  assert.deepEqual([added.now.side, added.now.value, added.decision.kind], ['none', 'not-tested', 'added']);
  assert.equal(added.evidence, null);
  assert.equal(
    await page.evaluate(() => document.activeElement.dataset.id),
    added.id,
    'the focus is on what was added',
  );
  await page.done();
});

test('a side that was not said is never guessed, and said by one key', async () => {
  const page = await visit(on);
  const id = await open(page, 'no-side');
  const [finding] = (await record(page, id)).findings;
  assert.equal(finding.side, 'unstated');
  await page.getByText('side not said').first().waitFor();
  await page.keyboard.press('c');
  assert.equal(await page.locator('dialog [name=side]:checked').count(), 0);
  await page.keyboard.press('Enter');
  await page.getByText('say which').waitFor();
  await shot(page, 'no-side');
  await page.keyboard.press('Escape');
  await page.keyboard.press('l');
  await says(page, 'Changed:');
  const [now] = (await record(page, id)).findings;
  assert.deepEqual([now.now.side, now.now.value, now.decision.kind], ['left', finding.value, 'changed']);
  assert.equal(await page.locator('.unsaid').count(), 1, 'the other side is offered, not filled in');
  await shot(page, 'side-said');
  await page.done();
});

test('single letters can be switched off, and do nothing while something is typed', async () => {
  const page = await visit(on);
  const id = await open(page, 'quick-term-boy');
  const { seen } = await record(page, id);
  await page.keyboard.press('?');
  await page.getByRole('dialog', { name: 'Keys' }).waitFor();
  await page.keyboard.press('Space');
  await page.keyboard.press('Escape');
  await page.keyboard.press('x');
  await page.keyboard.press('Shift+A');
  await page.keyboard.press('c');
  await page.waitForTimeout(200);
  assert.equal(await page.locator('dialog').count(), 0);
  assert.equal((await record(page, id)).seen, seen);
  await page.done();
});
