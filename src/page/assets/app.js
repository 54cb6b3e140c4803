// The beginning: which view is shown.
// Takes the fragment of the address (`#/` the list, `#/dictate`, `#/ID` a record); fills the landmarks of index.html through the views.
import * as api from './api.js';
import { load as loadBody } from './body.js';
import { el, fill } from './dom.js';
import * as keys from './keys.js';
import * as list from './list.js';
import * as record from './record.js';
import * as who from './who.js';

const place = (id) => document.getElementById(id);

const app = {
  head: place('head'),
  main: place('main'),
  foot: place('foot'),
  lexicon: null,
  session: null,
  ready: null,
  /** What is scrolled to must not lie below the head, however many lines that has. */
  measure() {
    document.documentElement.style.setProperty('--head', `${app.head.offsetHeight}px`);
  },
  /** Says what went wrong, until something goes right. */
  trouble(words) {
    fill(place('trouble'), words ? el('p', {}, words) : null);
  },
};

let view = null;

async function route() {
  const id = location.hash.replace(/^#\/?/, '');
  view?.leave();
  view = null;
  keys.set({});
  app.trouble('');
  document.body.className = '';
  document.body.dataset.view = id ? 'record' : 'list';
  try {
    if (id === 'dictate') view = await (await import('./dictate.js')).show(app);
    else view = id ? await record.show(id, app) : await list.show(app);
    keys.set(view.keys);
  } catch (error) {
    app.head.replaceChildren(el('h1', {}, 'spoken-exam'));
    fill(app.main, el('p', {}, el('a', { href: '#/' }, 'All records')));
    app.trouble(error.message);
  }
}

new ResizeObserver(app.measure).observe(app.head);

/** What every view needs; asked for once, while the view asks for its own. */
async function prepare() {
  const [lexicon, session] = await Promise.all([api.lexicon(), api.session(), loadBody()]);
  app.lexicon = { ...lexicon, byId: new Map(lexicon.items.map((item) => [item.id, item])) };
  app.session = session;
  if (session.by) who.set(session.by.name, session.by.role);
}

async function begin() {
  app.ready = prepare();
  addEventListener('hashchange', route);
  place('skip').addEventListener('click', (event) => {
    event.preventDefault();
    app.main.focus();
  });
  await route();
  performance.mark('usable');
}

begin().catch((error) => app.trouble(error.message));
