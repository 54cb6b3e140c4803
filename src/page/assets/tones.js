// Short, quiet tones: something was taken, something needs the eye, an order was understood.
// Takes which; plays it, if tones are on. Whether they are is remembered by the browser.
const KEY = 'spoken-exam-tones';
/** Hertz and, in seconds, when and for how long. High and single, falling, rising: told apart without looking. */
const TONES = {
  taken: [[660, 0, 0.09]],
  eye: [
    [494, 0, 0.11],
    [370, 0.14, 0.16],
  ],
  order: [
    [660, 0, 0.06],
    [880, 0.08, 0.08],
  ],
};
const LOUDNESS = 0.05;
const EDGE = 0.012;

let context = null;

export const isOn = () => localStorage.getItem(KEY) !== 'off';
export const switchTo = (on) => localStorage.setItem(KEY, on ? 'on' : 'off');

/** Plays `taken`, `eye` or `order`. */
export function play(kind) {
  if (!isOn()) return;
  context ??= new AudioContext();
  if (context.state !== 'running') context.resume().catch(() => {});
  for (const [hertz, after, length] of TONES[kind]) {
    const at = context.currentTime + after;
    const tone = new OscillatorNode(context, { frequency: hertz });
    const gain = new GainNode(context, { gain: 0 });
    // Without edges each tone would begin and end with a click.
    gain.gain.setValueAtTime(0, at);
    gain.gain.linearRampToValueAtTime(LOUDNESS, at + EDGE);
    gain.gain.setValueAtTime(LOUDNESS, at + length - EDGE);
    gain.gain.linearRampToValueAtTime(0, at + length);
    tone.connect(gain).connect(context.destination);
    tone.start(at);
    tone.stop(at + length);
  }
}
