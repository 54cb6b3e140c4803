// What a signed record is good for: beside earlier ones of the same infant, and taken out as a file. Then light, room and access of
// all that a record shows beyond what was said.
import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { after, before, test } from 'node:test';
import { LABEL, idOf, infants } from './infants.mjs';
import { faults, open, says, shot, signNow, visit } from './stage.mjs';

let on;
before(async () => {
  on = await infants();
});
after(() => on?.end());

const openAll = (page) =>
  page.evaluate(() => {
    for (const made of document.querySelectorAll('main details')) made.open = true;
  });

test('signed records of one infant stand side by side, once somebody opens them', async () => {
  const page = await visit(on);
  await signNow(page, await idOf(page, 'day-two.txt'), { infant: LABEL, examined: '2026-11-22' });
  await signNow(page, await idOf(page, 'day-nine.txt'), { infant: LABEL, examined: '2026-11-29' });
  const asked = [];
  page.on('request', (request) => {
    if (request.url().endsWith('/serial')) asked.push(request.url());
  });
  const id = await open(page, 'day-nine');
  assert.deepEqual(asked, []);
  await page.locator('[data-keep=earlier] > summary').click();
  const table = page.getByRole('table');
  await table.waitFor();
  assert.equal(asked.length, 1);
  assert.deepEqual(await table.locator('thead th').allTextContents(), [
    'Finding',
    '22 Nov 20262 days, 38+6 weeks post-menstrual',
    '29 Nov 2026, this one9 days, 39+6 weeks post-menstrual',
  ]);
  const told = await page.evaluate(async (id) => (await fetch(`/api/records/${id}/serial`)).json(), id);
  assert.equal(await table.locator('tr.changed').count(), told.rows.filter((row) => row.changed).length);
  assert.equal(
    await table.locator('tr', { hasText: 'Popliteal angle left' }).textContent(),
    'Popliteal angle left150°90° ≠ changed',
  );
  assert.match(
    await table.locator('tr', { hasText: 'Birth weight' }).textContent(),
    /not mentioned ≠ told in one alone/,
  );
  assert.match(
    await page.locator('[data-keep=earlier]').textContent(),
    /Head circumference: \+0\.80 cm a week, 22 Nov 2026 to 29 Nov 2026/,
  );
  await page.getByLabel(/Only what changed/).check();
  assert.equal(await table.locator('tbody tr.same:visible').count(), 0);
  assert.ok((await table.locator('tbody tr.changed:visible').count()) > 0);
  await shot(page, 'beyond-earlier');
  await page.getByLabel(/Only what changed/).uncheck();
  await table.getByRole('link', { name: '22 Nov 2026' }).click();
  await page.locator('h1', { hasText: 'day-two' }).waitFor();
  await page.done();
});

/** Presses a button, and gives the file that comes of it. */
async function file(page, name) {
  const [download] = await Promise.all([
    page.waitForEvent('download'),
    page.getByRole('button', { name, exact: true }).click(),
  ]);
  return { name: download.suggestedFilename(), bytes: readFileSync(await download.path()) };
}

test('a signed record is taken out in five forms, a draft as a page to print', async () => {
  const page = await visit(on, '#/', { acceptDownloads: true });
  const id = await open(page, 'day-nine');
  await page.getByText('Take it out as a file').click();
  const forms = [
    ['Note as text', 'txt', /Head circumference/i],
    ['Note as Markdown', 'md', /Head circumference/i],
    ['PDF to print', 'pdf', /^%PDF-/],
    ['FHIR document', 'json', /"resourceType"/],
    ['CSV for research', 'csv', /head-circumference/],
  ];
  for (const [button, ending, holds] of forms) {
    const { name, bytes } = await file(page, button);
    assert.ok(name.startsWith(id) && name.endsWith(`.${ending}`), `${button}: ${name}`);
    assert.match(bytes.toString('latin1'), holds, button);
    await says(page, `${button}: ${name}`);
  }
  await page.goto(`${on.origin}/#/`);
  await open(page, 'bedside-round');
  assert.equal(await page.locator('.exports button').count(), 1);
  const { bytes } = await file(page, 'Print draft (PDF, watermarked)');
  assert.match(bytes.toString('latin1'), /^%PDF-/);
  await page.done();
});

test('what the program says against a file is shown', async () => {
  const page = await visit(on, '#/', { allow: ['status of 409'] });
  await open(page, 'bedside-round');
  const words = 'The record is not signed; sign it first.';
  await page.route(/\/export\?/, (route) => route.fulfill({ status: 409, json: { error: 'not-signed', words } }));
  await page.getByRole('button', { name: 'Print draft (PDF, watermarked)' }).click();
  await page.locator('#trouble', { hasText: words }).waitFor();
  await page.done();
});

async function lookAt(page, name, all) {
  all.push(...(await faults(page, name)));
  const beyond = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
  assert.equal(beyond, 0, `${name} must not be moved sideways`);
}

for (const colorScheme of ['light', 'dark'])
  for (const width of [360, 820, 1280])
    test(`axe finds nothing, nothing is too wide or too small: ${colorScheme}, ${width} wide`, async () => {
      const page = await visit(on, '#/', { colorScheme, viewport: { width, height: 800 }, hasTouch: true });
      const all = [];
      await open(page, 'day-nine');
      await openAll(page);
      await page.getByRole('table').waitFor();
      await lookAt(page, 'signed', all);
      await shot(page, `beyond-signed-${width}-${colorScheme}`);
      await page.goto(`${on.origin}/#/`);
      const id = await idOf(page, 'unknown.txt');
      await page.goto(`${on.origin}/#/${id}`);
      await page.locator('.finding[aria-current]').waitFor();
      await openAll(page);
      await page.locator('.finding', { hasText: '34 cm' }).click();
      await lookAt(page, 'draft', all);
      await page.getByRole('button', { name: 'Infant and time …' }).click();
      await page.locator('dialog[open]').waitFor();
      await lookAt(page, 'whose', all);
      await page.keyboard.press('Escape');
      const small = await page.evaluate(() =>
        [...document.querySelectorAll('main button, main summary, .later .chip, .later .tick')]
          .filter((made) => made.checkVisibility())
          .map((made) => [made.className, made.textContent, made.offsetHeight])
          .filter(([, , high]) => high < 44),
      );
      assert.deepEqual(small, []);
      assert.deepEqual(all, []);
      await page.done();
    });
