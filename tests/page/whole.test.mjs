// The whole way with a recording: draft, change of a side, sound, confirm, sign, read only, amend, read again.
// Needs the speech model (spoken-exam setup).
import assert from 'node:assert/strict';
import { mkdtempSync, readFileSync, readdirSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before, test } from 'node:test';
import { confirmAll, faults, open, record, records, says, shot, stage, visit } from './stage.mjs';

let on;
before(async () => {
  const lexicon = mkdtempSync(join(tmpdir(), 'spoken-exam-own-'));
  on = { lexicon, ...(await stage(['samples/quick-term-boy.flac'], { lexicon })) };
});
after(async () => {
  await on?.end();
  rmSync(on.lexicon, { recursive: true });
});

test('a recording is reviewed, signed and amended', async () => {
  const page = await visit(on);
  const id = await open(page, 'quick-term-boy.flac');
  const draft = await record(page, id);
  assert.equal(draft.state, 'draft');
  assert.match(await page.locator('.banner').textContent(), /^DRAFT /);

  await changeASide(page, id, draft);
  await playAStretch(page, id);
  await confirmTheRest(page, id);
  await signIt(page, id);
  await amendIt(page, id);
  await page.done();
});

async function changeASide(page, id, draft) {
  const left = draft.findings.find((finding) => finding.side === 'left');
  await page.locator(`#f-${left.id}`).click();
  const marks = await page.locator('.panel .line.this span[class^=mark]').allTextContents();
  assert.equal(marks.join(''), left.evidence.quote, 'the words it rests on are marked, and no others');
  await page.keyboard.press('c');
  await shot(page, 'change');
  await page.keyboard.press('r');
  await page.keyboard.press('Enter');
  await says(page, 'Changed:');
  const now = (await record(page, id)).findings.find((finding) => finding.id === left.id);
  assert.deepEqual(
    [now.decision.kind, now.decision.by, now.now.side, now.now.value],
    ['changed', 'A. Examiner', 'right', left.value],
  );
  await proposeAsMisheard(page);
  // It was a trial: u takes it back, and both entries are kept.
  await page.locator(`#f-${left.id}`).click();
  await page.keyboard.press('u');
  await says(page, 'Undone:');
  const after = await record(page, id);
  assert.equal(after.findings.find((finding) => finding.id === left.id).decision, null);
  assert.equal(after.seen, 2);
}

// What is written is shown first, and stands in one's own phrases then.
async function proposeAsMisheard(page) {
  await page.getByRole('button', { name: /Propose as misheard/ }).click();
  await page.getByLabel('The recogniser wrote').fill('hellbost');
  await page.getByLabel('What was said').fill('scarf sign');
  await page.keyboard.press('Enter');
  const toml = await page.locator('dialog pre').textContent();
  assert.match(toml, /hellbost/);
  assert.deepEqual(readdirSync(on.lexicon), []);
  await shot(page, 'misheard');
  assert.deepEqual(await faults(page, 'misheard'), []);
  await page.keyboard.press('Enter');
  await page.locator('dialog').waitFor({ state: 'detached' });
  assert.match(readFileSync(join(on.lexicon, 'misheard.toml'), 'utf8'), /hellbost/);
}

async function playAStretch(page, id) {
  const sound = page.waitForResponse((answer) => answer.url().includes('/sound?'));
  await page.keyboard.press('p');
  const answer = await sound;
  assert.equal(answer.status(), 200);
  assert.equal(answer.headers()['content-type'], 'audio/wav');
  const chosen = await page.locator('.finding[aria-current]').getAttribute('data-id');
  const { evidence } = (await record(page, id)).findings.find((finding) => finding.id === chosen);
  const from = Number(new URL(answer.url()).searchParams.get('from'));
  assert.equal(from, Math.max(0, evidence.from_ms - 500));
  await page.waitForFunction(() => document.body.dataset.playing === 'yes');
  await page.waitForFunction(() => document.body.dataset.playing === 'no', null, { timeout: 15000 });
}

async function confirmTheRest(page, id) {
  await page.keyboard.press('Shift+A');
  await says(page, 'confirmed.');
  await confirmAll(page, id);
  await says(page, 'Nothing is undecided');
}

async function signIt(page, id) {
  await page.keyboard.press('s');
  await shot(page, 'sign');
  assert.deepEqual(await faults(page, 'sign'), []);
  await page.keyboard.press('Enter');
  await says(page, 'Version 1 is signed');
  assert.match(await page.locator('.banner').textContent(), /^SIGNED Version 1, A\. Examiner, registrar/);
  const signed = await record(page, id);
  assert.equal(signed.state, 'signed');
  await page.keyboard.press('x');
  await says(page, 'This record is signed');
  assert.equal((await record(page, id)).seen, signed.seen, 'nothing is decided about a signed record by a slip');
  assert.equal(await page.getByRole('button', { name: 'Confirm', exact: true }).count(), 0);
  await shot(page, 'signed');
  assert.deepEqual(await faults(page, 'signed'), []);
}

async function amendIt(page, id) {
  await page.keyboard.press('s');
  await says(page, 'Amending');
  await page.keyboard.press('x');
  await says(page, 'Rejected:');
  assert.match(await page.locator('.banner').textContent(), /1 decision since: DRAFT until signed/);
  await page.keyboard.press('s');
  await page.keyboard.press('Enter');
  await page.getByText('The reason is missing').waitFor();
  await page.keyboard.type('Heard again: it was not found.');
  await shot(page, 'amend');
  assert.deepEqual(await faults(page, 'amend'), []);
  await page.keyboard.press('Enter');
  await says(page, 'Version 2 is signed');
  const amended = await record(page, id);
  assert.equal(amended.state, 'amended');
  assert.deepEqual(
    amended.signatures.map((signature) => signature.reason),
    [null, 'Heard again: it was not found.'],
  );
  const [listed] = await records(page);
  assert.deepEqual([listed.state, listed.undecided], ['amended', 0]);
}
