// What every test of the page needs: a store with records, the program that serves them, and a browser.
// Takes narrations or recordings; gives the address, pages, and ends all of it. A page fails its test when it says anything on
// the console, throws, or asks anybody but the program.
import assert from 'node:assert/strict';
import { execFileSync, spawn } from 'node:child_process';
import { mkdirSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';

const load = createRequire(join(process.env.SPOKEN_EXAM_PAGE_CACHE, 'package.json'));
const { chromium } = load('playwright-core');
const AXE = load.resolve('axe-core/axe.min.js');
export const ROOT = resolve(import.meta.dirname, '../..');
const PROGRAM = process.env.SPOKEN_EXAM_PROGRAM;
const FLAGS = [
  '--no-sandbox',
  '--disable-gpu',
  '--disable-quic',
  '--no-first-run',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
  '--autoplay-policy=no-user-gesture-required',
];

const heard = (wav) => [
  '--use-fake-ui-for-media-stream',
  '--use-fake-device-for-media-stream',
  ...(wav ? [`--use-file-for-fake-audio-capture=${wav}%noloop`] : []),
];

/**
 * A store with a draft of each file; `by` is the name on the command line, null for none. The browser's microphone is not a
 * real one: it beeps, or plays the wav that is named by `microphone` whenever it is opened.
 */
export async function stage(files, { by = 'A. Examiner', lexicon = null, microphone = null } = {}) {
  const folder = mkdtempSync(join(tmpdir(), 'spoken-exam-page-'));
  const store = join(folder, 'store');
  for (const file of files)
    execFileSync(PROGRAM, ['draft', resolve(ROOT, file), '--keep', '--store', store], {
      stdio: ['ignore', 'ignore', 'pipe'],
    });
  const who = by ? ['--by', by, '--role', 'registrar'] : [];
  const own = lexicon ? ['--lexicon', lexicon] : [];
  const serve = () =>
    spawn(PROGRAM, ['review', '--store', store, ...who, ...own], { stdio: ['ignore', 'pipe', 'inherit'] });
  let server = serve();
  const address = await firstLine(server);
  const browser = await chromium.launch({
    executablePath: process.env.SPOKEN_EXAM_BROWSER,
    args: [...FLAGS, ...heard(microphone)],
  });
  const end = async () => {
    await browser.close();
    const ended = await ends(server);
    rmSync(folder, { recursive: true });
    assert.equal(ended, 'by itself', 'the program ends within five seconds of Ctrl-C');
  };
  /** Kills the program and starts it anew; gives where it is then. */
  const restart = async () => {
    server.kill('SIGKILL');
    await new Promise((done) => {
      server.once('exit', done);
    });
    server = serve();
    const now = await firstLine(server);
    return { ...on, address: now, origin: new URL(now).origin };
  };
  const on = { address, origin: new URL(address).origin, folder, store, browser, end, restart };
  return on;
}

function firstLine(server) {
  return new Promise((done, fail) => {
    let text = '';
    server.stdout.on('data', (data) => {
      text += data;
      const found = /http:\/\/\S+/.exec(text);
      if (found && text.includes('\n')) done(found[0]);
    });
    server.once('exit', (code) => fail(new Error(`the program ended with ${code} and printed: ${text}`)));
  });
}

function ends(server) {
  return new Promise((done) => {
    const late = setTimeout(() => {
      server.kill('SIGKILL');
      done('killed');
    }, 5000);
    server.once('exit', () => {
      clearTimeout(late);
      done('by itself');
    });
    server.kill('SIGINT');
  });
}

/** A page with the cookie, at `hash`. `allow` are texts that may stand on the console. */
export async function visit(on, hash = '#/', { allow = [], prepare = null, ...options } = {}) {
  const context = await on.browser.newContext({ viewport: { width: 1280, height: 800 }, ...options });
  const page = await context.newPage();
  await prepare?.(page);
  const faults = [];
  const note = (words) => {
    if (!allow.some((known) => words.includes(known))) faults.push(words);
  };
  page.on('console', (message) => note(`console: ${message.text()}`));
  page.on('pageerror', (error) => note(`error: ${error.message}`));
  page.on('request', (request) => {
    if (!request.url().startsWith(`${on.origin}/`) && !request.url().startsWith('blob:'))
      note(`asked elsewhere: ${request.url()}`);
  });
  await page.goto(on.address);
  // What a redirection leads to is the program's own document; asked for by itself it is the folder's.
  if (process.env.SPOKEN_EXAM_ASSETS) {
    await page.route(/\/(assets\/.*)?$/, fromFolder);
    await page.goto(`${on.origin}/`);
  }
  if (hash !== '#/') await page.goto(`${on.origin}/${hash}`);
  await settled(page);
  const close = async () => {
    await context.close();
    assert.deepEqual(faults, []);
  };
  return Object.assign(page, { faults, done: close });
}

const TYPES = { html: 'text/html; charset=utf-8', css: 'text/css', js: 'text/javascript', svg: 'image/svg+xml' };

// The program carries its assets; whoever writes them looks at those in the folder, under the program's own headers.
async function fromFolder(route) {
  const name = new URL(route.request().url()).pathname.replace(/^\/(assets\/)?/, '') || 'index.html';
  // A file that the program does not carry yet has the document's policy too.
  const answer = await route.fetch({ url: new URL('/', route.request().url()).href });
  const policy = answer.headers()['content-security-policy'];
  const headers = { 'content-security-policy': policy, 'content-type': TYPES[name.split('.').pop()] };
  await route.fulfill({ status: 200, headers, body: readFileSync(join(process.env.SPOKEN_EXAM_ASSETS, name)) });
}

/** Waits until a view stands. */
export async function settled(page) {
  await page.waitForFunction(() => document.querySelector('.finding[aria-current], .results > *, .before, .dictating'));
}

/** Records as the program lists them. */
export const records = (page) => page.evaluate(async () => (await (await fetch('/api/records')).json()).records);

/** A record as the program gives it. */
export const record = (page, id) => page.evaluate(async (id) => (await fetch(`/api/records/${id}`)).json(), id);

/** Opens the record of a file, from the list. */
export async function open(page, file) {
  await page.getByRole('link', { name: new RegExp(file) }).click();
  await page.waitForSelector('.finding[aria-current]');
  return page.evaluate(() => location.hash.slice(2));
}

/** What the page said last. */
export const said = (page) => page.locator('#said').textContent();

/** Waits until the page says so. */
export async function says(page, words) {
  await page.waitForFunction((words) => document.getElementById('said')?.textContent.includes(words), words);
}

/** How many findings of a record nobody decided, as the program knows it. */
export async function undecided(page, id) {
  return (await record(page, id)).findings.filter((finding) => !finding.decision).length;
}

/** Waits until something holds that must be asked for; the browser's own waiting takes a promise for a yes. */
export async function until(holds, what) {
  const late = Date.now() + 10_000;
  while (!(await holds())) {
    assert.ok(Date.now() < late, `it never came to: ${what}`);
    await new Promise((done) => {
      setTimeout(done, 20);
    });
  }
}

/** Confirms by Enter until nothing is undecided; `press` presses a key. */
export async function confirmAll(page, id, press = (key) => page.keyboard.press(key)) {
  for (let left = await undecided(page, id); left > 0; left = await undecided(page, id)) {
    await press('Enter');
    await until(async () => (await undecided(page, id)) < left, `less than ${left} undecided`);
  }
}

/** Confirms everything and signs, without showing it; `said` is whose record it is and when the examination was. */
export function signNow(page, id, said) {
  return page.evaluate(
    async ([id, said]) => {
      const by = { name: 'A. Examiner', role: 'registrar' };
      const post = async (what, body) => {
        const headers = { 'content-type': 'application/json' };
        const answer = await fetch(`/api/records/${id}/${what}`, {
          method: 'POST',
          headers,
          body: JSON.stringify(body),
        });
        if (!answer.ok) throw new Error(`${what}: ${await answer.text()}`);
        return answer.json();
      };
      const { draft, seen, findings } = await post('remark', { by, ...said });
      const wishes = findings.map((finding) => ({ kind: 'confirm', finding: finding.id }));
      const now = await post('decide', { draft: draft.version, seen, by, wishes });
      return post('sign', { draft: draft.version, seen: now.seen, by });
    },
    [id, said],
  );
}

/** Keeps a picture, if pictures are wanted. */
export async function shot(page, name) {
  const folder = process.env.SPOKEN_EXAM_SHOTS;
  if (!folder) return;
  mkdirSync(folder, { recursive: true });
  await page.screenshot({ path: join(folder, `${name}.png`) });
}

const TAGS = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'];

/** What the rules of WCAG 2.2, as far as axe knows them, say against what is shown. */
export async function faults(page, view) {
  // By the debugger's door, since the page itself lets no script in.
  await page.evaluate(readFileSync(AXE, 'utf8'));
  const found = await page.evaluate((tags) => globalThis.axe.run({ runOnly: tags }), TAGS);
  assert.ok(found.passes.length > 20, 'axe looked at the page');
  return found.violations.flatMap((rule) =>
    rule.nodes.map((node) => `${view}: ${rule.id}: ${node.target} ${node.failureSummary}`),
  );
}

/** The same in light and in dark. */
export async function faultsInBoth(page, view) {
  const all = [];
  for (const colorScheme of ['light', 'dark']) {
    await page.emulateMedia({ colorScheme });
    all.push(...(await faults(page, `${view}, ${colorScheme}`)));
    await shot(page, `${view}-${colorScheme}`);
  }
  return all;
}
