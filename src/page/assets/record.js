// One record: what is selected, what is shown, and where.
// Takes a record's id and the lexicon; fills head, main and foot; gives the table of keys. Leaves alone how anything is decided
// (deciding.js).
import * as api from './api.js';
import { body } from './body.js';
import { apart, marks } from './beside.js';
import * as computed from './computed.js';
import { ACTS } from './deciding.js';
import { bar, detail } from './detail.js';
import { el, fill } from './dom.js';
import { help } from './help.js';
import { later } from './later.js';
import { counts, firstOpen, nextOpen, order, sections } from './model.js';
import { whole } from './narration.js';
import { head, overview } from './overview.js';
import * as prompts from './prompts.js';
import { REMARKS, Remarking } from './remarking.js';
import * as rows from './rows.js';
import { stands } from './sign.js';
import { silent } from './silent.js';
import * as sound from './sound.js';

const WIDE = matchMedia('(min-width: 56.25rem)');

/** Shows a record; gives `{keys, leave}`. */
export async function show(id, app) {
  const [record] = await Promise.all([api.read(id), app.ready]);
  const page = new Page(record, app);
  page.draw();
  page.select(page.firstOpen() ?? page.ids[0] ?? null, { focus: true });
  page.showPrompts();
  const place = () => page.placePanel();
  WIDE.addEventListener('change', place);
  return {
    keys: page.keys(),
    leave: () => {
      WIDE.removeEventListener('change', place);
      sound.stop();
    },
  };
}

class Page extends Remarking {
  constructor(record, app) {
    super();
    Object.assign(this, { app, record, selected: null, amending: false, mine: [], busy: Promise.resolve() });
    this.kept = { charts: new Map(), measure: null, changedOnly: false, serial: null };
    this.panel = el('section', { class: 'panel', 'aria-label': 'The selected finding' });
    this.bar = el('div', { class: 'bar-place' });
    this.open = new Set(matchMedia('(min-width: 80rem)').matches ? ['map'] : []);
    this.bind();
  }

  // Keys and buttons do the same; one after the other, so that a fast hand loses nothing.
  bind() {
    const inTurn =
      (act) =>
      (...given) => {
        this.busy = this.busy.then(() => act.apply(this, given)).catch((error) => this.wrong(error));
        return this.busy;
      };
    for (const name of [...ACTS, ...REMARKS]) {
      this[name] = inTurn(Page.prototype[name]);
    }
  }

  keys() {
    const move = (by) => () => {
      this.busy = this.busy.then(() => this.move(by));
    };
    const side = (name) => () => this.change({ side: name });
    return {
      j: move(1),
      ArrowDown: move(1),
      k: move(-1),
      ArrowUp: move(-1),
      n: () => this.select(this.nextOpen(), { focus: true }),
      Enter: () => this.confirm(),
      c: () => this.change(),
      x: () => this.reject(),
      u: () => this.undo(),
      p: () => this.play(),
      a: () => this.add(),
      A: () => this.confirmClear(),
      s: () => this.sign(),
      l: side('left'),
      r: side('right'),
      '?': help,
    };
  }

  get readOnly() {
    return this.record.signatures.length > 0 && !this.amending;
  }

  get finding() {
    return this.record.findings.find((finding) => finding.id === this.selected) ?? null;
  }

  nextOpen() {
    return nextOpen(this.record, this.ids, this.selected) ?? this.selected;
  }

  firstOpen() {
    return firstOpen(this.record, this.ids);
  }

  asks() {
    const misheard = this.record.draft.model && this.app.session.own_lexicon ? () => this.misheard() : null;
    return {
      selected: this.selected,
      readOnly: this.readOnly,
      misheard,
      help,
      canUndo: Boolean(this.finding?.decision) || this.mine.length > 0,
      select: (id) => this.select(id),
      add: (what) => this.add(what instanceof Event ? {} : what),
      wish: (wish) => this.wish(wish),
      confirm: () => this.confirm(),
      change: () => this.change(),
      reject: () => this.reject(),
      undo: () => this.undo(),
      play: () => this.play(),
      next: () => this.move(1),
      confirmClear: () => this.confirmClear(),
      sign: () => this.sign(),
      kept: this.kept,
      marks: (finding) => marks(this.record, finding),
      apart: (item) => apart(this.record, item),
      together: (ids) => this.together(ids),
      putAside: (prompt) => this.putAside(prompt),
      whose: () => this.whose(),
      keepFile: (kind, words) => this.keepFile(kind, words),
    };
  }

  draw() {
    const { record, app } = this;
    const parts = sections(record, app.lexicon);
    this.ids = order(parts);
    const ask = this.asks();
    for (const made of app.main.querySelectorAll('details[data-keep]'))
      this.open[made.open ? 'add' : 'delete'](made.dataset.keep);
    const said = this.drawn ? (document.getElementById('said')?.textContent ?? '') : '';
    this.drawn = true;
    document.title = `${record.draft.source.file_name} – spoken-exam`;
    fill(app.head, head(record, counts(record), stands(record), ask));
    document.getElementById('said').textContent = said;
    fill(
      app.main,
      el(
        'div',
        { class: 'record' },
        el(
          'div',
          { class: 'overview' },
          overview(
            record,
            body(record, app, (region) => this.goRegion(region)),
            ask,
          ),
        ),
        el('div', { class: 'findings' }, this.parts(parts, ask)),
        // It scrolls by itself, and a signed one has no button in it: keys reach it all the same.
        el('aside', { 'aria-label': 'Words of the selected finding', tabindex: '0' }),
      ),
    );
    for (const made of document.querySelectorAll('details[data-keep]')) made.open = this.open.has(made.dataset.keep);
    app.foot.replaceChildren();
    app.measure();
    this.drawPanel();
  }

  parts(parts, ask) {
    const { record, app } = this;
    const earlier = later({
      keep: 'earlier',
      summary: el('h2', {}, 'Earlier examinations'),
      load: async (place) => (await import('./earlier.js')).show(place, record, this.kept),
    });
    return [
      prompts.section(record, ask),
      rows.all(parts, record, ask),
      computed.section(record, ask),
      // Without the words by which the chart knows the infant there is nothing to look for.
      record.infant ? earlier : null,
      silent(record, app.lexicon, ask),
      whole(record),
    ];
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
    else {
      row.append(this.panel);
      aside.replaceChildren(this.bar);
    }
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

  // What is commonly looked at at once is seen before anything is decided. What a key would decide must be seen too: if both
  // are not, nothing is selected yet.
  showPrompts() {
    if (prompts.standing(this.record, 'now').length === 0) return;
    scrollTo(0, 0);
    const box = document.getElementById(`f-${this.selected}`)?.getBoundingClientRect();
    const hidden = WIDE.matches ? 0 : this.bar.offsetHeight;
    if (box && box.bottom <= innerHeight - hidden) return;
    this.select(null);
    document.getElementById('prompts-head').focus();
  }

  /** Selects the first of some findings, and marks all of them. */
  together(ids) {
    const there = this.ids.filter((id) => ids.includes(id));
    if (there.length === 0) return;
    this.select(there[0], { focus: true });
    rows.mark(there[0], there);
  }

  move(by) {
    const at = this.ids.indexOf(this.selected);
    const to = this.ids[Math.min(this.ids.length - 1, Math.max(0, at + by))];
    if (to) this.select(to, { focus: true });
  }

  goRegion(name) {
    const open = this.record.findings.filter((finding) => finding.region === name);
    const first =
      this.ids.find((id) => open.some((finding) => finding.id === id && !finding.decision)) ??
      this.ids.find((id) => open.some((finding) => finding.id === id));
    if (first) {
      this.select(first, { focus: true });
      return;
    }
    const silently = this.app.main.querySelector(`details[data-keep="silent-${CSS.escape(name)}"]`);
    if (silently) {
      silently.open = true;
      silently.querySelector('summary').focus();
    }
  }

  /** Shows what the program answered; selects `next`. */
  take(record, words, next) {
    const before = this.record.seen;
    this.record = record;
    if (record.seen > before) this.app.trouble('');
    this.draw();
    this.say(words);
    const there = this.ids.includes(next) ? next : (this.firstOpen() ?? this.ids[0] ?? null);
    this.selected = null;
    this.select(there, { focus: true });
  }

  say(words) {
    const place = document.getElementById('said');
    if (place) place.textContent = words;
  }
}
