// Answers spoken by the browser, if that is switched on: parents hear them too.
// Takes words; tells before and after, whatever happens between, so that the program does not take its own voice for the
// examiner's.
const KEY = 'spoken-exam-aloud';
const BEGINS_MS = 3000;

export const isOn = () => localStorage.getItem(KEY) === 'on';
export const switchTo = (on) => localStorage.setItem(KEY, on ? 'on' : 'off');

let ending = null;

/** Speaks. `begins()` is called before, `ends()` once after. */
export function speak(words, { begins, ends }) {
  const voice = globalThis.speechSynthesis;
  if (!isOn() || !voice || !words) return;
  stop();
  begins();
  let late = 0;
  const end = () => {
    clearTimeout(late);
    if (ending !== end) return;
    ending = null;
    ends();
  };
  ending = end;
  const giveUp = (ms) => {
    clearTimeout(late);
    late = setTimeout(() => {
      voice.cancel();
      end();
    }, ms);
  };
  const said = new SpeechSynthesisUtterance(words);
  said.lang = 'en-GB';
  // A machine without a voice says nothing, not even that.
  giveUp(BEGINS_MS);
  said.addEventListener('start', () => giveUp(5000 + words.length * 150));
  said.addEventListener('end', end);
  said.addEventListener('error', end);
  voice.speak(said);
}

/** Is silent. */
export function stop() {
  globalThis.speechSynthesis?.cancel();
  ending?.();
}
