// What is decided about one record: every wish, what the program answers, and what is said of it.
// Takes a page that has `record`, `app`, `selected`, `finding`, `ids`, `readOnly`, `take`, `select`, `draw` and `say`; sends wishes to
// the program, which alone says what stands. Leaves alone how anything is shown.
import * as api from './api.js';
import * as dialogs from './change.js';
import { meanwhile } from './meanwhile.js';
import { propose } from './misheard.js';
import { counts, kindOf, nextOpen, order, sections, sideOf } from './model.js';
import { sign } from './sign.js';
import * as sound from './sound.js';
import * as who from './who.js';
import { count, decisionWords, findingWords } from './words.js';

/** What can be done by key or button; each is done in turn. */
export const ACTS = ['confirm', 'confirmClear', 'change', 'reject', 'undo', 'play', 'add', 'sign', 'misheard', 'wish'];

export class Deciding {
  /** Says what was refused; what stands by now is shown with it. */
  wrong(error) {
    if (error.body?.record) this.take(error.body.record, '', this.selected);
    this.app.trouble(error.message);
  }

  refuseReading() {
    if (!this.readOnly) return false;
    this.say('This record is signed. Choose Amend (s) to change it.');
    return true;
  }

  /** What every request says: which draft was looked at, up to which entry, and who it is. */
  seen(by) {
    return { draft: this.record.draft.version, seen: this.record.seen, by };
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
      queueMicrotask(() => {
        this.busy = this.busy.then(() => this.clash(error, wish));
      });
      return true;
    }
  }

  async clash(error, wish) {
    const id = error.body.finding ?? wish.finding;
    this.take(error.body.record, 'Decided in the meantime by somebody else.', id);
    if ((await meanwhile(error, wish)) !== 'again') {
      this.select(this.nextOpen(), { focus: true });
      return;
    }
    this.select(id, { focus: true });
    if (wish.kind === 'change' && this.finding) {
      const known = this.app.lexicon.byId.get(this.finding.item)?.values.find((value) => value.id === wish.value);
      await dialogs.change(this.finding, this.app.lexicon, (again) => this.sendChange(again), {
        ...wish,
        words: known?.words ?? wish.value,
      });
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
    if (this.refuseReading()) return;
    // Where nothing is selected, nothing was looked at: it is shown first.
    if (!finding || finding.decision) {
      this.select(this.nextOpen(), { focus: true });
      return;
    }
    await this.send({ kind: 'confirm', finding: finding.id }, this.told(finding.id), (id, record) =>
      this.after(id, record),
    );
  }

  async reject() {
    const finding = this.finding;
    if (!finding || this.refuseReading() || finding.decision?.kind === 'rejected') return;
    await this.send({ kind: 'reject', finding: finding.id }, this.told(finding.id), (id, record) =>
      this.after(id, record),
    );
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
    await dialogs.add(this.app.lexicon, (wish) => this.sendAdded(wish), what);
  }

  async wish(wish) {
    if (!this.refuseReading()) await this.sendAdded(wish);
  }

  async sendAdded(wish) {
    const name = this.app.lexicon.byId.get(wish.item)?.name ?? wish.item;
    return this.send(
      wish,
      (record) => `Added: ${name}. ${this.left(record)}`,
      (id) => id,
    );
  }

  async undo() {
    if (this.refuseReading()) return;
    const entry = this.finding?.decision?.entry;
    const entries = entry ? [entry] : this.mine.pop();
    if (!entries) {
      this.say('There is nothing to undo.');
      return;
    }
    this.mine = this.mine
      .map((batch) => batch.filter((other) => !entries.includes(other)))
      .filter((batch) => batch.length > 0);
    const holds = entries.filter((number) =>
      this.record.findings.some((finding) => finding.decision?.entry === number),
    );
    if (holds.length === 0) {
      this.say('It was undone already.');
      return;
    }
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
    if (open.length === 0) {
      this.say('No clear finding is undecided.');
      return;
    }
    const by = await who.ask();
    if (!by) return;
    const record = await api.confirmClear(this.record.id, this.seen(by));
    const ids = new Set(open.map((finding) => finding.id));
    const done = record.findings.filter((finding) => ids.has(finding.id) && finding.decision);
    this.mine.push(done.map((finding) => finding.decision.entry));
    const keep =
      this.finding && !this.finding.decision && !ids.has(this.selected) ? this.selected : this.after(null, record);
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
    const send = ({ by, reason }) =>
      again ? api.amend(this.record.id, { ...this.seen(by), reason }) : api.sign(this.record.id, this.seen(by));
    const record = await sign(this.record, {
      send,
      go: (id) => this.select(id, { focus: true }),
      remark: (by, said) => api.remark(this.record.id, { by, ...said }),
    });
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
