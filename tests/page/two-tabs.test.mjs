// Two people with one record: who comes second is asked again and loses nothing.
import assert from 'node:assert/strict';
import { after, before, test } from 'node:test';
import { confirmAll, faults, faultsInBoth, open, record, says, shot, stage, until, visit } from './stage.mjs';

let on;
before(async () => {
  on = await stage(['samples/bedside-round.txt', 'samples/second-thoughts.txt'], { by: null });
});
after(() => on?.end());

const CLASH = ['status of 409'];

async function name(page, who, role) {
  await page.getByRole('dialog', { name: 'Who is reviewing?' }).waitFor();
  await page.keyboard.type(who);
  await page.keyboard.press('Tab');
  await page.keyboard.type(role);
  await page.keyboard.press('Enter');
}

test('a name and a role are asked for once, and not without both', async () => {
  const page = await visit(on);
  const id = await open(page, 'second-thoughts');
  await page.keyboard.press('Enter');
  await page.getByRole('dialog', { name: 'Who is reviewing?' }).waitFor();
  await page.keyboard.press('Enter');
  await page.getByText('Your name is missing').waitFor();
  assert.deepEqual(await faultsInBoth(page, 'who'), []);
  assert.equal((await record(page, id)).seen, 0);
  await page.keyboard.press('Escape');
  assert.equal((await record(page, id)).seen, 0, 'whoever leaves the dialog decides nothing');
  await page.keyboard.press('Enter');
  await name(page, 'B. Second', 'consultant');
  await says(page, 'Confirmed:');
  await page.keyboard.press('Enter');
  await until(async () => (await record(page, id)).seen === 2, 'two entries');
  const by = (await record(page, id)).findings
    .filter((finding) => finding.decision)
    .map((finding) => finding.decision.by);
  assert.deepEqual(by, ['B. Second', 'B. Second']);
  await page.done();
});

test('what was decided in the meantime is shown, kept, or decided again', async () => {
  const one = await visit(on);
  const two = await visit(on, '#/', { allow: CLASH });
  const id = await open(one, 'bedside-round');
  await open(two, 'bedside-round');
  const first = await one.locator('.finding[aria-current]').getAttribute('data-id');

  await one.keyboard.press('x');
  await name(one, 'B. First', 'registrar');
  await says(one, 'Rejected:');
  await two.keyboard.press('Enter');
  await name(two, 'C. Second', 'consultant');
  const dialog = two.getByRole('dialog', { name: 'Decided in the meantime' });
  await dialog.waitFor();
  assert.match(await dialog.textContent(), /B\. First, registrar, was here before you/);
  assert.equal((await dialog.textContent()).match(/rejected/gi).length, 1, 'it is said once');
  await shot(two, 'meanwhile');
  assert.deepEqual(await faults(two, 'meanwhile'), []);
  await two.keyboard.press('Escape');
  await dialog.waitFor({ state: 'detached' });
  let now = await record(one, id);
  assert.equal(now.seen, 1, 'keeping theirs writes nothing');
  assert.equal(now.findings.find((finding) => finding.id === first).decision.by, 'B. First');
  assert.notEqual(await two.locator('.finding[aria-current]').getAttribute('data-id'), first);

  const second = await two.locator('.finding[aria-current]').getAttribute('data-id');
  await one.locator(`#f-${second}`).click();
  await one.keyboard.press('Enter');
  await says(one, 'Confirmed:');
  await two.keyboard.press('x');
  await dialog.waitFor();
  await two.keyboard.press('Enter');
  await says(two, 'Decide it again');
  assert.equal(await two.evaluate(() => document.activeElement.dataset.id), second);
  await two.keyboard.press('x');
  await says(two, 'Rejected:');
  now = await record(one, id);
  assert.equal(now.findings.find((finding) => finding.id === second).decision.by, 'C. Second');
  await one.done();
  await two.done();
});

test('nobody signs what they have not seen', async () => {
  const one = await visit(on);
  const two = await visit(on, '#/', { allow: CLASH });
  const id = await open(one, 'second-thoughts');
  await one.keyboard.press('Shift+A');
  await name(one, 'B. First', 'registrar');
  await says(one, 'confirmed.');
  await confirmAll(one, id);
  await open(two, 'second-thoughts');
  await two.keyboard.press('s');
  await two.getByRole('dialog', { name: 'Sign this record' }).waitFor();
  await one.keyboard.press('x');
  await says(one, 'Rejected:');
  await two.keyboard.type('C. Second');
  await two.keyboard.press('Tab');
  await two.keyboard.type('consultant');
  await two.keyboard.press('Enter');
  await two.locator('#trouble p').waitFor();
  const now = await record(one, id);
  assert.equal(now.signatures.length, 0);
  assert.equal(await two.locator('.finding.rejected').count(), 1, 'what was decided since stands on the page');
  await one.done();
  await two.done();
});
