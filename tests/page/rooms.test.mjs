// Room, light and access: three widths, twice the size, light and dark, rules of WCAG 2.2 as far as axe knows them.
import assert from 'node:assert/strict';
import { after, before, test } from 'node:test';
import { faults, open, records, shot, stage, visit } from './stage.mjs';

let on;
before(async () => {
  on = await stage(['samples/second-thoughts.txt', 'samples/bedside-round.txt']);
});
after(() => on?.end());

const DIALOGS = [
  ['c', 'change'],
  ['a', 'add'],
  ['s', 'refused'],
  ['?', 'keys'],
];

for (const colorScheme of ['light', 'dark']) {
  for (const width of [360, 1280]) {
    test(`axe finds nothing: ${colorScheme}, ${width} wide`, async () => {
      const page = await visit(on, '#/', { colorScheme, viewport: { width, height: 800 } });
      const all = await faults(page, 'list');
      await shot(page, `list-${width}-${colorScheme}`);
      await open(page, 'second-thoughts');
      await page.evaluate(() => {
        for (const made of document.querySelectorAll('details')) made.open = true;
      });
      all.push(...(await faults(page, 'record')));
      for (const [key, view] of DIALOGS) {
        await page.keyboard.press(key);
        await page.locator('dialog[open]').waitFor();
        all.push(...(await faults(page, view)));
        await page.keyboard.press('Escape');
        await page.locator('dialog').waitFor({ state: 'detached' });
      }
      assert.deepEqual(all, []);
      await page.done();
    });
  }
}

// 1280 at twice the size is 640; a phone at twice its size is 320 wide and 256 high.
const ROOMS = [
  [360, 740],
  [820, 1180],
  [1280, 800],
  [640, 400],
  [320, 256],
];

for (const [width, height] of ROOMS) {
  test(`everything is within ${width} by ${height}, large enough to touch, and what has the focus is seen`, async () => {
    const page = await visit(on, '#/', { viewport: { width, height }, hasTouch: true });
    await sideways(page, 'list');
    await open(page, 'bedside-round');
    await shot(page, `record-${width}`);
    await sideways(page, 'record');
    const small = await page.evaluate(() =>
      [...document.querySelectorAll('.bar button, .acts button, .finding, .silent button, .row .unsaid')]
        .filter((made) => made.offsetParent !== null)
        .map((made) => [made.className, made.textContent, made.offsetWidth, made.offsetHeight])
        .filter(([, , wide, high]) => wide < 44 || high < 44),
    );
    assert.deepEqual(small, []);
    for (let step = 0; step < 12; step += 1) {
      await page.keyboard.press('j');
      await seen(page, step);
    }
    await page.keyboard.press('c');
    await page.locator('dialog[open]').waitFor();
    await sideways(page, 'change');
    await page.done();
  });
}

async function sideways(page, view) {
  const beyond = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
  assert.equal(beyond, 0, `${view} must not be moved sideways`);
}

async function seen(page, step) {
  await page.waitForFunction(() => document.activeElement.matches('.finding[aria-current]'));
  const hidden = await page.evaluate(() => {
    const box = document.activeElement.getBoundingClientRect();
    const at = document.elementFromPoint(box.left + box.width / 2, box.top + Math.min(box.height / 2, 20));
    return document.activeElement.contains(at)
      ? null
      : `${document.activeElement.id} lies below ${at?.className || at?.tagName} at ${box.top}`;
  });
  assert.equal(hidden, null, `after ${step + 1} steps`);
}

test('by touch: choose, confirm, take back', async () => {
  const page = await visit(on, '#/', { viewport: { width: 360, height: 740 }, hasTouch: true, isMobile: true });
  await open(page, 'bedside-round');
  const [first] = await page.locator('.finding').all();
  await first.tap();
  const id = await first.getAttribute('data-id');
  await page.getByRole('button', { name: 'Confirm', exact: true }).tap();
  await page.locator(`#f-${id}.decided`).waitFor();
  await page.getByRole('button', { name: 'Undo' }).tap();
  await page.locator(`#f-${id}:not(.decided)`).waitFor();
  await page.done();
});

test('the list is searched, and says so where nothing fits', async () => {
  const page = await visit(on);
  assert.equal((await records(page)).length, 2);
  await page.keyboard.press('/');
  await page.keyboard.type('second');
  await page.waitForFunction(() => document.querySelectorAll('.records a').length === 1);
  await page.keyboard.type('qqq');
  await page.getByText('Nothing fits.').waitFor();
  await page.locator('#search').fill('');
  await page.getByRole('radio', { name: 'amended' }).check();
  await page.getByText('Nothing fits.').waitFor();
  await page.done();
});
