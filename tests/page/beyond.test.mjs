// What a record shows beyond what was said: prompts, what was reckoned, growth charts, whose it is.
// Takes narrations whose infant, ages and findings are known. Leaves alone whether it was reckoned rightly, which the program's own
// tests do.
import assert from 'node:assert/strict';
import { after, before, test } from 'node:test';
import { LABEL, idOf, infants } from './infants.mjs';
import { confirmAll, faultsInBoth, open, record, says, shot, visit } from './stage.mjs';

let on;
before(async () => {
  on = await infants();
});
after(() => on?.end());

const prompt = (page, said) => page.locator('.prompts > .prompt, .prompts .stack .prompt').filter({ hasText: said });
const inSight = (page, what) =>
  page.locator(what).evaluate((made) => {
    const { top, bottom } = made.getBoundingClientRect();
    return top >= document.getElementById('head').offsetHeight - 1 && bottom <= innerHeight;
  });
for (const [width, height] of [
  [360, 740],
  [820, 1180],
  [1280, 800],
])
  test(`what is commonly looked at at once is in sight at first: ${width} wide`, async () => {
    const page = await visit(on, '#/', { viewport: { width, height } });
    const id = await idOf(page, 'unusual.txt');
    await page.goto(`${on.origin}/#/${id}`);
    await page.locator('.prompt.now').waitFor();
    assert.equal(await inSight(page, '.prompt.now .prompt-words'), true);
    assert.match(
      await page.locator('.prompt.now .prompt-words').textContent(),
      /^◆ now You said anterior fontanelle bulging\./,
    );
    assert.match(await page.locator('#head').textContent(), /◆ 1 to look at now, 3 more/);
    // Whatever Enter would decide is in sight too; else the first Enter only shows it.
    const before = (await record(page, id)).seen;
    if ((await page.locator('.finding[aria-current]').count()) === 0) {
      await page.keyboard.press('Enter');
      await page.locator('.finding[aria-current]').waitFor();
      assert.equal((await record(page, id)).seen, before);
    } else assert.equal(await inSight(page, '.finding[aria-current]'), true);
    await shot(page, `beyond-first-${width}`);
    await page.done();
  });

test('prompts say what was said, why, and where that is from; choosing one shows its findings', async () => {
  const page = await visit(on);
  const id = await open(page, 'unusual');
  const { computed } = await record(page, id);
  assert.deepEqual(
    computed.prompts.map(({ level }) => level),
    ['now', 'soon', 'soon', 'recheck'],
  );
  await page.locator('[data-keep=prompts] > summary').click();
  for (const one of computed.prompts) {
    const shown = await prompt(page, one.words).textContent();
    for (const words of [...one.why, ...one.cited.map(({ source }) => source)]) assert.ok(shown.includes(words), words);
    for (const note of one.notes) assert.ok(shown.toLowerCase().includes(note.toLowerCase()), note);
    for (const { mark } of one.cited) assert.ok(!mark || shown.includes(mark), mark);
  }
  assert.match(await prompt(page, 'cry high pitched').textContent(), /Said with doubt/);
  for (const words of computed.about_prompts)
    assert.ok((await page.locator('.about-prompts').textContent()).includes(words));
  await page.getByRole('button', { name: /^Show the 2 findings popliteal/ }).click();
  assert.match(await page.locator('.finding[aria-current]').textContent(), /popliteal angle/);
  assert.equal(await page.locator('.finding.together').count(), 2);
  assert.equal(await page.evaluate(() => document.activeElement.matches('.finding[aria-current]')), true);
  await page.keyboard.press('j');
  assert.equal(await page.locator('.finding.together').count(), 0);
  assert.equal(
    await page.locator('.prompts [aria-live], [aria-live] .prompt').count(),
    0,
    'nothing of it is announced',
  );
  await page.done();
});

test('where there are none, exactly that is said', async () => {
  const page = await visit(on);
  await open(page, 'bedside-round');
  assert.equal(await page.locator('.no-prompts').textContent(), 'no prompts from these rules');
  assert.match(
    await page.locator('.about-prompts').textContent(),
    /a finding without a prompt is not thereby harmless/,
  );
  assert.doesNotMatch(await page.locator('#head').textContent(), /to look at now|second look/);
  await page.done();
});

test('what was reckoned stands beside a finding, called computed, and not in its words', async () => {
  const page = await visit(on);
  const id = await open(page, 'unusual');
  const { findings } = await record(page, id);
  const left = findings.find((one) => one.item === 'popliteal-angle' && one.side === 'left');
  const cell = page.locator(`#f-${left.id}`);
  assert.equal(await cell.locator('.value').textContent(), '150°');
  assert.equal(
    await cell.locator('.beside').textContent(),
    'computed outside what is usual at 38+6 weeks · state then: crying',
  );
  const row = page.locator('.row', { has: cell });
  assert.match(await row.locator('.differs').textContent(), /left and right differ by 60° computed/);
  await cell.click();
  const panel = await page.locator('.panel .reckoned').textContent();
  assert.match(panel, /^computed nobody said this/);
  assert.match(panel, /Usual at 38\+6 weeks: 70 to 110°\. This is outside it\./);
  assert.match(panel, /Ballard 1991.*inferred/);
  assert.match(panel, /State then: crying, in which this is hard to read/);
  assert.match(panel, /right 90°, left 150°: 60° apart/);
  const head = findings.find((one) => one.item === 'head-circumference');
  await page.locator(`#f-${head.id}`).click();
  const size = await page.locator('.panel .reckoned').textContent();
  assert.match(size, /z −0\.05, 48th centile/);
  assert.match(size, /WHO Child Growth Standards, 2006: boy, 2 days old/);
  // What is within what is usual has no mark.
  const suck = findings.find((one) => one.item === 'suck');
  assert.doesNotMatch(await page.locator(`#f-${suck.id}`).textContent(), /outside what is usual/);
  await page.done();
});

test('what was reckoned is one section, and what is missing says why', async () => {
  const page = await visit(on);
  const id = await open(page, 'unusual');
  const { computed } = await record(page, id);
  const section = page.locator('section.computed');
  await section.locator('summary').click();
  const words = await section.textContent();
  for (const { kind, words: age, source } of computed.ages)
    for (const part of [kind, age, source]) assert.ok(words.toLowerCase().includes(part.toLowerCase()), part);
  for (const { standard, used, centile_words: centile } of computed.sizes)
    for (const part of [standard, used, `${centile} centile`]) assert.ok(words.includes(part), part);
  assert.match(words, /Popliteal angle: right 90°, left 150°: 60° apart/);
  assert.match(words, /Scarf sign: left alone; right: not mentioned/);
  await page.goto(`${on.origin}/#/`);
  await open(page, 'unknown');
  await section.locator('summary').click();
  const missing = await section.textContent();
  assert.match(missing, /No age was said\./);
  assert.match(missing, /no figure: /);
  await page.done();
});

test('a growth chart is a drawing with words, one measure at a time, and nothing in it can act', async () => {
  const page = await visit(on);
  await open(page, 'unusual');
  await page.locator('section.computed > details > summary').click();
  const chart = page.locator('.chart svg');
  await chart.waitFor();
  assert.match(await chart.getAttribute('aria-label'), /Birth weight 3200 g: z 0\.07, 53rd centile; INTERGROWTH/);
  await page.getByRole('radio', { name: 'Head circumference' }).check();
  await page.locator('.chart svg[aria-label*="34.6 cm: z −0.05, 48th centile; WHO"]').waitFor();
  assert.ok((await chart.locator('path, polyline, line').count()) > 3, 'curves are drawn');
  await shot(page, 'beyond-chart');
  // A decision draws the record anew; the measure that was looked at stays.
  await page.locator('.finding', { hasText: 'strong' }).click();
  await page.keyboard.press('x');
  await says(page, 'Rejected:');
  await page.locator('.chart svg[aria-label*="Head circumference"]').waitFor();
  await page.keyboard.press('u');
  await page.done();
});

test('a chart that is none can do nothing', async () => {
  // The browser says so when it meets what the page's policy forbids.
  const page = await visit(on, '#/', { allow: ['Content Security Policy directive'] });
  await open(page, 'unusual');
  const chart = page.locator('.chart svg');
  const odd =
    '<svg xmlns="http://www.w3.org/2000/svg" onload="alert(1)"><script>alert(2)</script><path d="M0 0" style="fill:red"/>' +
    '<foreignObject><p xmlns="http://www.w3.org/1999/xhtml">no</p></foreignObject><use href="https://example.org/x"/></svg>';
  await page.route(/\/chart\?/, (route) => route.fulfill({ contentType: 'image/svg+xml', body: odd }));
  await page.reload();
  await page.locator('section.computed > details > summary').click();
  await chart.waitFor();
  assert.deepEqual(
    await chart.evaluate((made) => [
      made.querySelectorAll('script, foreignObject, p, [style], [href]').length,
      made.onload,
    ]),
    [0, null],
  );
  await page.done();
});

test('a prompt is put aside for a reason, which stays with who and when', async () => {
  const page = await visit(on);
  const id = await open(page, 'unusual');
  await page.getByRole('button', { name: 'Put aside … anterior fontanelle bulging' }).click();
  await page.getByRole('dialog', { name: 'Put a prompt aside' }).waitFor();
  await page.keyboard.press('Enter');
  await page.getByText('The reason is missing').waitFor();
  assert.deepEqual(await faultsInBoth(page, 'beyond-put-aside'), []);
  assert.equal((await record(page, id)).computed.prompts.filter((one) => one.put_aside).length, 0);
  await page.keyboard.type('Seen with the consultant: he was crying');
  await page.keyboard.press('Enter');
  await says(page, 'Put aside: anterior fontanelle bulging.');
  assert.equal(
    await page.evaluate(() => document.activeElement.id),
    'prompts-head',
    'the reader stays where they were',
  );
  await page.reload();
  await page.locator('[data-keep=prompts-aside] > summary').click();
  const aside = page.locator('.prompt.aside');
  assert.match(await aside.textContent(), /You said anterior fontanelle bulging/);
  assert.match(await aside.textContent(), /Put aside by A\. Examiner, registrar, \d/);
  assert.match(await aside.textContent(), /Seen with the consultant: he was crying/);
  assert.equal(await page.locator('.prompt.now').count(), 0);
  await page.getByRole('button', { name: '◇ 3 worth a second look' }).click();
  assert.equal(await page.evaluate(() => document.activeElement.id), 'prompts-head');
  await shot(page, 'beyond-aside');
  await page.done();
});

test('whose it is and when it was is written, shown as text, and taken back', async () => {
  const page = await visit(on);
  const id = await open(page, 'unknown');
  const form = page.getByRole('dialog', { name: 'Infant and time' });
  const edit = () => page.getByRole('button', { name: 'Infant and time …' }).click();
  await edit();
  assert.match(await form.textContent(), /not a name/);
  await form.getByLabel('Infant').fill(LABEL);
  await form.getByLabel('Time, if known').fill('14:05');
  await page.keyboard.press('Enter');
  await form.getByText('The day is missing').waitFor();
  await form.getByLabel('Day of the examination').press('1');
  await page.keyboard.press('Enter');
  await form.getByText('The day or the time is not whole').waitFor();
  await form.getByLabel('Day of the examination').fill('2026-11-29');
  await shot(page, 'beyond-whose');
  await form.getByRole('button', { name: 'Write it' }).click();
  await says(page, 'Written.');
  const written = await record(page, id);
  assert.deepEqual([written.infant.words, written.examined.words], [LABEL, '2026-11-29T14:05']);
  assert.deepEqual(await page.locator('.whose dd').allTextContents(), [
    `${LABEL} written by A. Examiner, registrar, ${await moment(page, written.infant.at)}`,
    `29 Nov 2026, 14:05 written by A. Examiner, registrar, ${await moment(page, written.examined.at)}`,
  ]);
  assert.equal(await page.locator('main img').count(), 0, 'what was written is text');
  await edit();
  assert.equal(await form.getByLabel('Infant').inputValue(), LABEL);
  await form.getByLabel('Infant').fill('');
  await form.getByRole('button', { name: 'Write it' }).click();
  await page.locator('.whose dd.none').waitFor();
  assert.equal((await record(page, id)).infant, null);
  assert.match(await page.locator('.whose').textContent(), /29 Nov 2026, 14:05/, 'what was not touched stays');
  await page.done();
});

const moment = (page, at) =>
  page.evaluate((at) => new Date(at).toLocaleString('en-GB', { dateStyle: 'medium', timeStyle: 'short' }), at);

test('before signing, prompts are said once more, and whose it is is asked for', async () => {
  const page = await visit(on);
  const id = await open(page, 'unusual');
  await page.keyboard.press('Shift+A');
  await says(page, 'confirmed.');
  await confirmAll(page, id);
  await page.keyboard.press('s');
  const dialog = page.getByRole('dialog', { name: 'Sign this record' });
  await dialog.waitFor();
  const { computed } = await record(page, id);
  const standing = computed.prompts.filter((one) => !one.put_aside);
  assert.equal(await dialog.locator('.prompt').count(), standing.length);
  for (const one of standing) assert.ok((await dialog.textContent()).includes(one.words), one.words);
  assert.match(await dialog.textContent(), /1 prompt put aside, with a reason/);
  assert.equal(await page.evaluate(() => document.activeElement.name), 'name', 'the hands find what they found before');
  const seen = await dialog
    .locator('.prompt')
    .first()
    .evaluate((made) => {
      const { top, bottom } = made.getBoundingClientRect();
      return top > 0 && bottom < innerHeight && made.contains(document.elementFromPoint(innerWidth / 2, bottom - 20));
    });
  assert.ok(seen, 'the most pressing prompt is in sight, without a scroll');
  assert.deepEqual(await faultsInBoth(page, 'beyond-sign'), []);
  await dialog.getByLabel('Infant').fill('cot 7');
  await page.keyboard.press('Enter');
  await says(page, 'Version 1 is signed');
  const signed = await record(page, id);
  assert.deepEqual([signed.infant.words, signed.examined], ['cot 7', null]);
  assert.equal(await page.getByRole('button', { name: /^Put aside/ }).count(), 0, 'a signed record is read only');
  // What was left open can still be written; what it was signed with stays.
  await page.getByRole('button', { name: 'Infant and time …' }).click();
  assert.equal(await page.locator('dialog').getByLabel('Infant').count(), 0);
  await page.getByLabel('Day of the examination').fill('2026-11-28');
  await page.getByRole('button', { name: 'Write it' }).click();
  await says(page, 'Written.');
  assert.equal(await page.getByRole('button', { name: 'Infant and time …' }).count(), 0);
  assert.equal((await record(page, id)).signatures.length, 1);
  await page.done();
});
