// A whole dictation in a browser whose microphone plays a recording: words become findings, what is left shrinks, and at the end
// the review opens on the record. Needs the speech models; without them it says so and fails.
import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before, test } from 'node:test';
import { ROOT, record, records, shot, stage, visit } from './stage.mjs';

const PROGRAM = process.env.SPOKEN_EXAM_PROGRAM;
const SAMPLE = join(ROOT, 'samples/quick-term-boy.flac');
/** A second of quiet before and some behind, as there is in a room. */
const PADS = ['-af', 'adelay=1000,apad=pad_dur=6'];

let folder;
let wav;
let on;
before(async () => {
  folder = mkdtempSync(join(tmpdir(), 'spoken-exam-sound-'));
  wav = join(folder, 'sample.wav');
  execFileSync('ffmpeg', ['-loglevel', 'error', '-i', SAMPLE, ...PADS, '-ar', '48000', '-ac', '1', wav]);
  on = await stage(['samples/second-thoughts.txt'], { microphone: wav });
});
after(async () => {
  await on?.end();
  if (folder) rmSync(folder, { recursive: true });
});

const left = (page) => page.locator('.to-do h2 .sum').textContent({ timeout: 5000 }).then(Number);
const found = (page) => page.locator('.tally strong').first().textContent().then(Number);

async function begin(page) {
  await page.getByRole('button', { name: /^Begin/ }).click();
  const policy = page.getByText('Say first how long the sound is kept.');
  if (await policy.isVisible()) {
    await page.getByRole('radio', { name: /Until the record is signed/ }).check();
    await page.getByRole('button', { name: /^Begin/ }).click();
  }
  await page.locator('.mark.recording').waitFor({ timeout: 30_000 });
}

/** Waits until so much is on the disk. */
const kept = (page, seconds, patience) =>
  page.waitForFunction(
    (least) => {
      const [minutes, seconds] = document.querySelector('.so-long')?.textContent.split(':').map(Number) ?? [0, 0];
      return minutes * 60 + seconds >= least;
    },
    seconds,
    { timeout: patience },
  );

async function end(page) {
  await page.keyboard.press('e');
  await page.getByRole('button', { name: 'End it' }).click();
  await page.locator('.final').waitFor();
  await page.waitForFunction(() => document.querySelector('.finding[aria-current]'), null, { timeout: 200_000 });
  return page.evaluate(() => location.hash.slice(2));
}

const rows = (findings) => findings.map(({ item, side, value }) => `${item} ${side} ${value}`).sort();

test('spoken, seen, ended, reviewed', { timeout: 300_000 }, async () => {
  const page = await visit(on, '#/dictate', { permissions: ['microphone'] });
  await begin(page);
  await page.waitForFunction(() => document.querySelector('.row-found'), null, { timeout: 60_000 });
  const all = await left(page);
  await shot(page, 'dictation-real-1');
  const length = Number(
    execFileSync('ffprobe', ['-v', 'error', '-show_entries', 'format=duration', '-of', 'csv=p=0', wav]),
  );
  await kept(page, length - 3, length * 1000 + 60_000);
  await shot(page, 'dictation-real-2');
  assert.ok((await found(page)) > 0);
  assert.ok((await left(page)) < all, 'what is left shrinks');
  const id = await end(page);
  await shot(page, 'dictation-real-3');
  const made = await record(page, id);
  // The same recording as a file, drafted by the command line, says how well it can be understood.
  const batch = JSON.parse(
    execFileSync(PROGRAM, ['draft', wav, '--format', 'json'], {
      stdio: ['ignore', 'pipe', 'ignore'],
      maxBuffer: 1 << 26,
    }),
  );
  const [live, filed] = [rows(made.findings), rows([...(batch.context ?? []), ...batch.findings])];
  const both = live.filter((row) => filed.includes(row)).length;
  console.log(`findings: ${live.length} dictated, ${filed.length} from the file, ${both} alike`);
  assert.ok(
    both >= 0.8 * Math.max(live.length, filed.length),
    `dictated:\n${live.join('\n')}\nfrom the file:\n${filed.join('\n')}`,
  );
  await page.done();
});

test(
  'a page that is loaded again goes on with the dictation it had; another tab is told that there is one',
  { timeout: 200_000 },
  async () => {
    const page = await visit(on, '#/dictate', { permissions: ['microphone'] });
    page.on('dialog', (dialog) => dialog.accept());
    await begin(page);
    await page.waitForFunction(() => document.querySelector('.row-found'), null, { timeout: 60_000 });
    const before = await page.locator('.row-found').allTextContents();
    const other = await visit(on, '#/dictate', { permissions: ['microphone'] });
    await other.getByText('A dictation is under way in another tab or window.').waitFor();
    assert.equal(await other.getByRole('button', { name: /^Begin/ }).count(), 0);
    await other.done();
    const seconds = Number((await page.locator('.so-long').textContent()).split(':')[1]);
    await page.reload();
    await page.locator('.mark.recording').waitFor({ timeout: 10_000 });
    // What is heard again meanwhile may have become clear.
    const plain = (words) => words.replace('◆ new', '').replace(/▲.*/, '');
    const after = (await page.locator('.row-found').allTextContents()).map(plain);
    for (const row of before.map(plain)) assert.ok(after.includes(row), `${row} is still there`);
    await kept(page, seconds + 4, 20_000);
    const id = await end(page);
    assert.ok((await records(page)).some((made) => made.id === id));
    await page.done();
  },
);

test('when the program is killed, a draft can be made of what was recorded', { timeout: 200_000 }, async () => {
  const page = await visit(on, '#/dictate', {
    permissions: ['microphone'],
    allow: ['WebSocket', 'ERR_CONNECTION_REFUSED'],
  });
  page.on('dialog', (dialog) => dialog.accept());
  await begin(page);
  await kept(page, 14, 30_000);
  const again = await on.restart();
  await page.getByText('The line to the program is broken').waitFor();
  await page.done();
  const back = await visit(again, '#/dictate', { permissions: ['microphone'] });
  await back.getByRole('button', { name: 'Make a draft of it' }).click();
  await back.waitForFunction(() => document.querySelector('.finding[aria-current]'), null, { timeout: 100_000 });
  const id = await back.evaluate(() => location.hash.slice(2));
  assert.ok((await record(back, id)).draft.source.length_ms >= 14_000);
  await back.done();
});
