// The view for dictation: before, and during.
// Takes nothing but what the program says of dictation; fills head, main and foot. A page that was loaded again goes on with the
// dictation it had.
import * as api from './api.js';
import * as before from './dictate-before.js';
import * as during from './dictate-during.js';
import * as keys from './keys.js';

const KEY = 'spoken-exam-dictation';

/** Shows it; gives `{keys, leave}`. */
export async function show(app) {
  document.title = 'Dictate – spoken-exam';
  const view = { part: null, left: false };
  const put = (part) => {
    view.part?.leave();
    view.part = part;
    if (view.left) part.leave();
    else keys.set(part.keys);
  };
  const go = async (first, sound) => {
    try {
      put(during.show(app, await api.dictation(), first, sound, ends));
    } catch (error) {
      app.trouble(error.message);
    }
  };
  const start = async () => put(await before.show(app, await api.dictation(), { go, again: start }));
  const ends = {
    began: (id) => sessionStorage.setItem(KEY, id),
    refused: async (words) => {
      sessionStorage.removeItem(KEY);
      try {
        await start();
        app.trouble(words);
      } catch (error) {
        app.trouble(error.message);
      }
    },
    done: (id) => {
      sessionStorage.removeItem(KEY);
      location.hash = `#/${id}`;
    },
  };
  const mine = sessionStorage.getItem(KEY);
  if (mine) await go({ order: 'rejoin', id: mine }, { device: before.device() });
  else await start();
  return {
    get keys() {
      return view.part?.keys ?? {};
    },
    leave() {
      view.left = true;
      view.part?.leave();
    },
  };
}
