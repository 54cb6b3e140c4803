// One record: what is selected, what is decided, what is shown.
// Takes a record's id and the lexicon; fills head, main and foot; gives the table of keys. Every decision goes to the program,
// which alone says what stands; the page shows its answer.
import * as api from './api.js';
import { body } from './body.js';
import * as dialogs from './change.js';
import { bar, detail } from './detail.js';
import { el, fill } from './dom.js';
import { help } from './help.js';
import { meanwhile } from './meanwhile.js';
import { propose } from './misheard.js';
import { counts, kindOf, nextOpen, order, sections, sideOf } from './model.js';
import { whole } from './narration.js';
import { head, overview } from './overview.js';
import * as rows from './rows.js';
import { stands, sign } from './sign.js';
import { silent } from './silent.js';
import * as sound from './sound.js';
import * as who from './who.js';
import { count, decisionWords, findingWords } from './words.js';

const WIDE = matchMedia('(min-width: 56.25rem)');

/** Shows a record; gives `{keys, leave}`. */
export async function show(id, app) {
  const [record] = await Promise.all([api.read(id), app.ready]);
  const page = new Page(record, app);
  page.draw();
  page.select(page.firstOpen() ?? page.ids[0] ?? null, { focus: true });
  const place = () => page.placePanel();
  WIDE.addEventListener('change', place);
  return { keys: page.keys(), leave: () => { WIDE.removeEventListener('change', place); sound.stop(); } };
}

class Page {
  constructor(record, app) {
    Object.assign(this, { app, record, selected: null, amending: false, mine: [], busy: Promise.resolve() });
    this.panel = el('section', { class: 'panel', 'aria-label': 'The selected finding' });
    this.bar = el('div', { class: 'bar-place' });
    this.open = new Set(matchMedia('(min-width: 80rem)').matches ? ['map'] : []);
    this.bind();
  }

  // Keys and buttons do the same; one after the other, so that a fast hand loses nothing.
  bind() {
    const inTurn = (act) => (...given) => {
      this.busy = this.busy.then(() => act.apply(this, given)).catch((error) => this.wrong(error));
      return this.busy;
    };
    for (const name of ['confirm', 'confirmClear', 'change', 'reject', 'undo', 'play', 'add', 'sign', 'misheard', 'wish']) {
      this[name] = inTurn(Page.prototype[name]);
    }
  }

  keys() {
    const move = (by) => () => { this.busy = this.busy.then(() => this.move(by)); };
    const side = (name) => () => this.change({ side: name });
    return {
      j: move(1), ArrowDown: move(1), k: move(-1), ArrowUp: move(-1), n: () => this.select(this.nextOpen(), { focus: true }),
      Enter: () => this.confirm(), c: () => this.change(), x: () => this.reject(), u: () => this.undo(), p: () => this.play(),
      a: () => this.add(), A: () => this.confirmClear(), s: () => this.sign(), l: side('left'), r: side('right'), '?': help,
    };
  }

  get readOnly() {
    return this.record.signatures.length > 0 && !this.amending;
  }

  get finding() {
    return this.record.findings.find((finding) => finding.id === this.selected) ?? null;
  }

  /** What every request says: which draft was looked at, up to which entry, and who it is. */
  seen(by) {
    return { draft: this.record.draft.version, seen: this.record.seen, by };
  }

  nextOpen() {
    return nextOpen(this.record, this.ids, this.selected) ?? this.selected;
  }

  firstOpen() {
    return nextOpen(this.record, this.ids, null);
  }

  asks() {
    const misheard = this.record.draft.model && this.app.session.own_lexicon ? () => this.misheard() : null;
    return {
      selected: this.selected, readOnly: this.readOnly, misheard, help, canUndo: Boolean(this.finding?.decision) || this.mine.length > 0,
      select: (id) => this.select(id), add: (what) => this.add(what instanceof Event ? {} : what), wish: (wish) => this.wish(wish),
      confirm: () => this.confirm(), change: () => this.change(), reject: () => this.reject(), undo: () => this.undo(), play: () => this.play(),
      next: () => this.move(1), confirmClear: () => this.confirmClear(), sign: () => this.sign(),
    };
  }

  draw() {
    const { record, app } = this;
    const parts = sections(record, app.lexicon);
    this.ids = order(parts);
    const ask = this.asks();
    for (const made of app.main.querySelectorAll('details[data-keep]')) this.open[made.open ? 'add' : 'delete'](made.dataset.keep);
    const said = this.drawn ? document.getElementById('said')?.textContent ?? '' : '';
    this.drawn = true;
    document.title = `${record.draft.source.file_name} – spoken-exam`;
    fill(app.head, head(record, counts(record), stands(record), ask));
    document.getElementById('said').textContent = said;
    fill(app.main, el('div', { class: 'record' },
      el('div', { class: 'overview' }, overview(record, body(record, app, (region) => this.goRegion(region)))),
      el('div', { class: 'findings' }, rows.all(parts, record, ask), silent(record, app.lexicon, ask), whole(record)),
      el('aside', { 'aria-label': 'Words of the selected finding' })));
    for (const made of document.querySelectorAll('details[data-keep]')) made.open = this.open.has(made.dataset.keep);
    app.foot.replaceChildren();
    app.measure();
    this.drawPanel();
  }

  drawPanel() {
    const ask = this.asks();
    fill(this.panel, detail(this.record, this.finding, ask));
    fill(this.bar, bar(this.record, this.finding, ask));
    this.placePanel();
  }

  // Beside the findings where there is room, else below the row of the one that is selected.
  placePanel() {
    const aside = this.app.main.querySelector('aside');
    const row = document.getElementById(`f-${this.selected}`)?.closest('.row');
    if (WIDE.matches || !row) aside.replaceChildren(this.bar, this.panel);
    else { row.append(this.panel); aside.replaceChildren(this.bar); }
  }

  select(id, { focus = false } = {}) {
    if (id !== this.selected) {
      this.selected = id;
      rows.mark(id);
      this.drawPanel();
    }
    const chosen = document.getElementById(`f-${id}`);
    if (!focus || !chosen) return;
    chosen.focus({ preventScroll: true });
    // A key may decide it, so it must be in sight; what is higher than the window shows its beginning.
    const row = chosen.closest('.row');
    row.scrollIntoView({ block: row.offsetHeight > innerHeight / 2 ? 'start' : 'nearest' });
  }

  move(by) {
    const at = this.ids.indexOf(this.selected);
    const to = this.ids[Math.min(this.ids.length - 1, Math.max(0, at + by))];
    if (to) this.select(to, { focus: true });
  }

  goRegion(name) {
    const open = this.record.findings.filter((finding) => finding.region === name);
    const first = this.ids.find((id) => open.some((finding) => finding.id === id && !finding.decision)) ??
      this.ids.find((id) => open.some((finding) => finding.id === id));
    if (first) { this.select(first, { focus: true }); return; }
    const silently = this.app.main.querySelector(`details[data-keep="silent-${CSS.escape(name)}"]`);
    if (silently) { silently.open = true; silently.querySelector('summary').focus(); }
  }

  /** Shows what the program answered; selects `next`. */
  take(record, words, next) {
    const before = this.record.seen;
    this.record = record;
    if (record.seen > before) this.app.trouble('');
    this.draw();
    this.say(words);
    const there = this.ids.includes(next) ? next : this.firstOpen() ?? this.ids[0] ?? null;
    this.selected = null;
    this.select(there, { focus: true });
  }

  /** Says what was refused; what stands by now is shown with it. */
  wrong(error) {
    if (error.body?.record) this.take(error.body.record, '', this.selected);
    this.app.trouble(error.message);
  }

  say(words) {
    const place = document.getElementById('said');
    if (place) place.textContent = words;
  }

  refuseReading() {
    if (!this.readOnly) return false;
    this.say('This record is signed. Choose Amend (s) to change it.');
    return true;
  }

  /** Sends one wish; a 409 is shown as it stands and asked again. */
  async send(wish, words, next = (id) => this.after(id)) {
    const by = await who.ask();
    if (!by) return false;
    const before = new Set(this.record.findings.map((finding) => finding.decision?.entry));
    try {
      const record = await api.decide(this.record.id, { ...this.seen(by), wishes: [wish] });
      const entries = record.findings.filter((finding) => finding.decision && !before.has(finding.decision.entry));
      if (wish.kind !== 'undo') this.mine.push(entries.map((finding) => finding.decision.entry));
      this.take(record, words(record), next(wish.finding ?? entries[0]?.id, record));
      return true;
    } catch (error) {
      if (error.body?.error !== 'decided-meanwhile' || !error.body.record) throw error;
      // The dialog that sent it closes first; then this one opens.
      queueMicrotask(() => { this.busy = this.busy.then(() => this.clash(error, wish)); });
      return true;
    }
  }

  async clash(error, wish) {
    const id = error.body.finding ?? wish.finding;
    this.take(error.body.record, 'Decided in the meantime by somebody else.', id);
    if (await meanwhile(error, wish) !== 'again') { this.select(this.nextOpen(), { focus: true }); return; }
    this.select(id, { focus: true });
    if (wish.kind === 'change' && this.finding) {
      const known = this.app.lexicon.byId.get(this.finding.item)?.values.find((value) => value.id === wish.value);
      await dialogs.change(this.finding, this.app.lexicon, (again) => this.sendChange(again), { ...wish, words: known?.words ?? wish.value });
    } else this.say('Decide it again; what stands there is theirs.');
  }

  /** The next undecided one behind a finding, in the record as it is now. */
  after(id, record = this.record) {
    return nextOpen(record, order(sections(record, this.app.lexicon)), id) ?? id;
  }

  left(record) {
    const open = counts(record).open;
    return open > 0 ? `${open} left.` : 'Nothing is undecided.';
  }

  told(id) {
    return (record) => {
      const finding = record.findings.find((other) => other.id === id);
      return `${decisionWords(finding.decision.kind)}: ${findingWords(finding, finding.now ?? finding)}. ${this.left(record)}`;
    };
  }

  async confirm() {
    const finding = this.finding;
    if (!finding || this.refuseReading()) return;
    if (finding.decision) { this.select(this.nextOpen(), { focus: true }); return; }
    await this.send({ kind: 'confirm', finding: finding.id }, this.told(finding.id), (id, record) => this.after(id, record));
  }

  async reject() {
    const finding = this.finding;
    if (!finding || this.refuseReading() || finding.decision?.kind === 'rejected') return;
    await this.send({ kind: 'reject', finding: finding.id }, this.told(finding.id), (id, record) => this.after(id, record));
  }

  async sendChange(wish) {
    return this.send(wish, this.told(wish.finding), (id, record) => (record.draft.model ? id : this.after(id, record)));
  }

  /** Asks for a change; `given.side` says the side at once where none was said. */
  async change(given = null) {
    const finding = this.finding;
    if (!finding || this.refuseReading()) return;
    if (given?.side) {
      if (sideOf(finding) !== 'unstated') return;
      const { value, approx } = finding.now ?? finding;
      await this.sendChange({ kind: 'change', finding: finding.id, side: given.side, value, approx });
      return;
    }
    await dialogs.change(finding, this.app.lexicon, (wish) => this.sendChange(wish));
  }

  async add(what = {}) {
    if (this.refuseReading()) return;
    await dialogs.add(this.app.lexicon, (wish) => this.wish_(wish), what);
  }

  async wish(wish) {
    if (!this.refuseReading()) await this.wish_(wish);
  }

  async wish_(wish) {
    const name = this.app.lexicon.byId.get(wish.item)?.name ?? wish.item;
    return this.send(wish, (record) => `Added: ${name}. ${this.left(record)}`, (id) => id);
  }

  async undo() {
    if (this.refuseReading()) return;
    const entry = this.finding?.decision?.entry;
    const entries = entry ? [entry] : this.mine.pop();
    if (!entries) { this.say('There is nothing to undo.'); return; }
    this.mine = this.mine.map((batch) => batch.filter((other) => !entries.includes(other))).filter((batch) => batch.length > 0);
    const holds = entries.filter((number) => this.record.findings.some((finding) => finding.decision?.entry === number));
    if (holds.length === 0) { this.say('It was undone already.'); return; }
    const id = this.record.findings.find((finding) => finding.decision?.entry === holds[0]).id;
    const by = await who.ask();
    if (!by) return;
    const wishes = [...holds].reverse().map((number) => ({ kind: 'undo', entry: number }));
    const record = await api.decide(this.record.id, { ...this.seen(by), wishes });
    this.take(record, `Undone: ${count(holds.length, 'decision')}. ${this.left(record)}`, id);
  }

  async confirmClear() {
    if (this.refuseReading()) return;
    const open = this.record.findings.filter((finding) => kindOf(finding) === 'clear');
    if (open.length === 0) { this.say('No clear finding is undecided.'); return; }
    const by = await who.ask();
    if (!by) return;
    const record = await api.confirmClear(this.record.id, this.seen(by));
    const ids = new Set(open.map((finding) => finding.id));
    const done = record.findings.filter((finding) => ids.has(finding.id) && finding.decision);
    this.mine.push(done.map((finding) => finding.decision.entry));
    const keep = this.finding && !this.finding.decision && !ids.has(this.selected) ? this.selected : this.after(null, record);
    this.take(record, `${count(done.length, 'clear finding')} confirmed. ${this.left(record)}`, keep);
  }

  async play() {
    const evidence = this.finding?.evidence;
    if (this.record.sound !== 'kept' || evidence?.from_ms === undefined || evidence?.from_ms === null) {
      this.say(this.record.sound === 'deleted' ? 'The recording was deleted.' : 'There is no sound to play here.');
      return;
    }
    await sound.play(this.record.id, evidence.from_ms, evidence.to_ms, (on) => {
      document.body.dataset.playing = on ? 'yes' : 'no';
      const words = document.querySelector('#play span');
      if (words) words.textContent = on ? 'Stop' : 'Play';
    });
  }

  async sign() {
    if (this.readOnly) {
      this.amending = true;
      this.draw();
      this.select(this.selected ?? this.ids[0] ?? null, { focus: true });
      this.say('Amending: decide again what was wrong, then sign it with a reason (s).');
      return;
    }
    const again = this.record.signatures.length > 0;
    const send = ({ by, reason }) => (again
      ? api.amend(this.record.id, { ...this.seen(by), reason }) : api.sign(this.record.id, this.seen(by)));
    const record = await sign(this.record, send, (id) => this.select(id, { focus: true }));
    if (!record) return;
    this.amending = false;
    this.mine = [];
    this.take(record, `Version ${record.signatures.at(-1).version} is signed.`, this.selected);
  }

  async misheard() {
    const answer = await propose(this.finding);
    if (answer) this.say(answer.words);
  }
}
