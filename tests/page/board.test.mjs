// The view of a dictation, with a stand-in for the program: what somebody two metres away sees, presses and hears of.
// Light and dark, three sizes, few findings and eighty; an answer, a pause, trouble; access as far as axe knows it.
import assert from 'node:assert/strict';
import { after, before, test } from 'node:test';
import { finding, leftOf, many, standIn } from './double.mjs';
import { faults, shot, stage, until, visit } from './stage.mjs';

/** What matters is at least so high, in pixels. */
const LEAST = 28;
const MATTERS =
  '.mark, .behind, .tally, .troubles p, .pause-words, .found li, .found li span, .found h2, .to-do li, .to-do li span, ' +
  '.said, .guess, .over li, .over h2, .note p, .note strong';

let on;
before(async () => {
  on = await stage(['samples/second-thoughts.txt']);
});
after(() => on?.end());

/** A page with a dictation under way. */
async function dictating({ known = {}, ...options } = {}) {
  let double;
  const prepare = async (page) => {
    double = await standIn(page, known);
  };
  const page = await visit(on, '#/dictate', { permissions: ['microphone'], ...options, prepare });
  await page.getByRole('button', { name: /^Begin/ }).click();
  await page.locator('.mark.recording').waitFor();
  const lexicon = await page.evaluate(async () => (await fetch('/api/lexicon')).json());
  const draw = async (findings) => {
    double.tell('draft', { findings, left: leftOf(lexicon, findings) });
    await page.locator('.tally', { hasText: `${findings.length} found` }).waitFor();
  };
  return { page, double, lexicon, draw };
}

/** Everything that matters, shown with what is small or out of sight. */
const wanting = (page) =>
  page.evaluate(
    ([matters, least]) => {
      const inside = (box) =>
        box.top >= -1 && box.left >= -1 && box.bottom <= innerHeight + 1 && box.right <= innerWidth + 1;
      return [...document.querySelectorAll(matters)]
        .filter((made) => made.checkVisibility() && made.textContent.trim())
        .map((made) => [
          made.className || made.tagName,
          made.textContent,
          parseFloat(getComputedStyle(made).fontSize),
          inside(made.getBoundingClientRect()),
        ])
        .filter(([, , size, seen]) => size < least || !seen);
    },
    [MATTERS, LEAST],
  );

for (const colorScheme of ['light', 'dark'])
  for (const [width, height] of [
    [1280, 800],
    [1024, 768],
    [1920, 1080],
  ])
    test(`read from afar: ${colorScheme}, ${width} by ${height}`, async () => {
      const { page, double, lexicon, draw } = await dictating({ colorScheme, viewport: { width, height } });
      const all = [];
      const look = async (name) => {
        // A board that got another size is drawn anew in the next frame.
        await page.evaluate(() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done))));
        assert.deepEqual(await wanting(page), [], name);
        all.push(...(await faults(page, name)));
        await shot(page, `dictation-${width}-${colorScheme}-${name}`);
      };
      await look('nothing-yet');
      double.tell('said', { words: 'and now the left side', order: false, at_ms: 1000 });
      double.tell('guess', {
        words: 'which is much the same as on the other side, though a bit looser than I would have thought',
      });
      for (const count of [4, 25, 80]) {
        const findings = many(lexicon, count);
        await draw(findings);
        const newest = findings.filter((of) => of.newest);
        for (const { name } of newest) await page.locator('.row-found.newest', { hasText: name }).first().waitFor();
        const signs = page.locator('.row-found.newest .sign.new');
        assert.ok((await signs.count()) > 0 && (await signs.allTextContents()).every((words) => words.includes('new')));
        await look(`found-${count}`);
      }
      double.tell('behind', { ms: 4200 });
      double.tell('trouble', { words: 'The disk is full: what is said is kept in memory until there is room.' });
      await page.getByText('hearing is 4 s behind').waitFor();
      await look('trouble');
      double.tell('paused', { is: true });
      await page.locator('.mark.paused').waitFor();
      await look('paused');
      double.tell('paused', { is: false });
      const lines = leftOf(lexicon, many(lexicon, 25)).map(({ region, items }) => `${region}: ${items.join(', ')}`);
      double.tell('answer', { title: 'Still to do', lines, aloud: 'Much is left.' });
      await page.locator('.over h2').waitFor();
      await look('answer');
      assert.deepEqual(all, []);
      await page.done();
    });

test('what is new and what needs the eye is told by shape and word; the same on both sides is one line', async () => {
  const { page, draw } = await dictating();
  await draw([
    finding('knee-jerk', 'legs', 'left', 'brisk', { at: 9000, newest: true }),
    finding('knee-jerk', 'legs', 'right', 'brisk', { at: 9000, newest: true }),
    finding('scarf-sign', 'arms', 'unstated', 'to midline', { at: 4000, reasons: ['side unstated'] }),
  ]);
  assert.deepEqual(await page.locator('.row-found').allTextContents(), [
    'knee jerk left and right: brisk◆ new',
    'scarf sign side not said: to midline▲ check: side unstated',
  ]);
  assert.equal(await page.locator('[aria-live="polite"]').textContent(), 'New: knee jerk left and right brisk');
  await page.done();
});

test('every order has a button, large enough to touch, and a key', async () => {
  const { page, double } = await dictating();
  const small = await page.evaluate(() =>
    [...document.querySelectorAll('.orders-bar button')]
      .map((made) => [made.textContent, made.offsetHeight])
      .filter(([, high]) => high < 44),
  );
  assert.deepEqual(small, []);
  for (const key of 'lmtp') await page.keyboard.press(key);
  double.tell('paused', { is: true });
  await page.getByRole('button', { name: 'Go on' }).click();
  await page.keyboard.press('e');
  await page.getByRole('button', { name: 'End it' }).click();
  await until(() => double.names().includes('end'), 'the order to end');
  assert.deepEqual(double.names(), ['begin', 'left', 'mark', 'take-back', 'pause', 'resume', 'end']);
  await page.done();
});

test('an answer goes by Escape, by a touch, and when something else is said', async () => {
  const { page, double } = await dictating();
  const over = page.locator('.over');
  const ask = async () => {
    double.tell('answer', { title: 'You said', lines: ['knee jerk left: brisk'], aloud: '' });
    await over.waitFor();
  };
  await ask();
  await page.keyboard.press('Escape');
  await over.waitFor({ state: 'hidden' });
  await ask();
  await over.click();
  await over.waitFor({ state: 'hidden' });
  await ask();
  await page.waitForTimeout(1600);
  double.tell('guess', { words: 'and the' });
  await over.waitFor({ state: 'hidden' });
  await page.done();
});

test('the program is told before its own voice speaks, and behind it, with or without a voice', async () => {
  const { page, double } = await dictating();
  double.tell('answer', { title: 'You said', lines: ['Nothing yet.'], aloud: 'Nothing yet.' });
  await page.locator('.over').waitFor();
  assert.ok(!double.names().includes('speaking-begins'), 'nothing is spoken unless it is switched on');
  await page.evaluate(() => localStorage.setItem('spoken-exam-aloud', 'on'));
  double.tell('answer', { title: 'You said', lines: ['Nothing yet.'], aloud: 'Nothing yet.' });
  await until(() => double.names().includes('speaking-ends'), 'the end of speaking');
  assert.deepEqual(double.names(), ['begin', 'speaking-begins', 'speaking-ends']);
  await page.done();
});

test('sound that the line cannot take is kept, and handed over once', async () => {
  const { page, double } = await dictating();
  await until(() => double.blocks >= 5, 'five blocks of sound');
  assert.equal(double.length, 3200, 'a block is a tenth of a second of 16 bits');
  double.answers = false;
  double.sockets.at(-1).close();
  await page.getByText('what is said is kept here').waitFor();
  const before = double.blocks;
  await page.waitForTimeout(2500);
  assert.equal(double.blocks, before);
  // It answers again, and says how much it has.
  double.answers = true;
  double.sockets.at(-1).close();
  await page.locator('.mark.recording').waitFor();
  await until(() => double.blocks >= before + 30, 'what was kept, and more');
  assert.equal(double.orders.at(-1).order, 'rejoin');
  await page.done();
});

test('before the first dictation it must be said how long sound is kept; what was left unfinished is offered', async () => {
  let double;
  const prepare = async (page) => {
    const unfinished = [{ id: '0198', began: 1_700_000_000_000, length_ms: 61_300 }];
    double = await standIn(page, { chosen: false, unfinished });
  };
  const page = await visit(on, '#/dictate', { permissions: ['microphone'], prepare });
  await page.getByText('1:01 long').waitFor();
  await page.getByText('It records the sound of everybody in the room').waitFor();
  await page.getByText('Somebody with parental responsibility must have agreed').waitFor();
  for (const colorScheme of ['light', 'dark']) {
    await page.emulateMedia({ colorScheme });
    assert.deepEqual(await faults(page, `before, ${colorScheme}`), []);
    await shot(page, `dictation-before-${colorScheme}`);
  }
  await page.getByRole('button', { name: /^Begin/ }).click();
  await page.getByText('Say first how long the sound is kept.').waitFor();
  await page.getByRole('radio', { name: /Until the record is signed/ }).check();
  await page.getByRole('button', { name: 'Delete' }).click();
  await page.getByRole('button', { name: 'Delete it' }).click();
  await until(() => double.posts.length === 1, 'the order to delete');
  await page.locator('dialog').waitFor({ state: 'detached' });
  await page.getByRole('radio', { name: /Not at all/ }).check();
  await page.getByRole('button', { name: /^Begin/ }).click();
  await page.locator('.mark.recording').waitFor();
  assert.deepEqual(double.posts, [
    ['/api/dictation/drop', { id: '0198' }],
    ['/api/dictation/keep-sound', { policy: 'not-kept' }],
  ]);
  await page.done();
});

test('a microphone that may not be heard is told of, with what to do, and heard once it may be', async () => {
  let double;
  const prepare = async (page) => {
    double = await standIn(page);
    // The browser of these tests grants what it is asked for: a page is told otherwise until the test says so.
    await page.addInitScript(() => {
      const real = navigator.mediaDevices.getUserMedia.bind(navigator.mediaDevices);
      navigator.mediaDevices.getUserMedia = (wanted) =>
        globalThis.refused === false ? real(wanted) : Promise.reject(new DOMException('no', 'NotAllowedError'));
    });
  };
  const page = await visit(on, '#/dictate', { prepare });
  await page.getByRole('button', { name: /^Begin/ }).click();
  await page.getByText('This page may not hear the microphone. Allow it').waitFor();
  await page.locator('.mark.failing', { hasText: 'Not recording' }).waitFor();
  assert.deepEqual(await faults(page, 'refused'), []);
  await shot(page, 'dictation-refused');
  await page.evaluate(() => {
    globalThis.refused = false;
  });
  await page.locator('.mark.recording').waitFor();
  await until(() => double.blocks > 0, 'sound');
  await page.done();
});
