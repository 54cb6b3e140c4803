// Playing a stretch of the recording.
// Takes a record's id, a stretch and who wants to know; plays it with half a second around. One at a time; again stops it.
import { soundAt } from './api.js';

const AROUND = 500;
const player = new Audio();
let told = () => {};
player.preload = 'none';
for (const kind of ['ended', 'pause']) player.addEventListener(kind, () => told(false));

/** Whether something plays. */
export function plays() {
  return !player.paused && !player.ended;
}

export function stop() {
  player.pause();
}

/** Plays, or stops what plays. `tell(true|false)` is called when it starts and ends. */
export async function play(id, from, to, tell) {
  if (plays()) {
    stop();
    return;
  }
  told = tell;
  player.src = soundAt(id, Math.max(0, from - AROUND), to + AROUND);
  try {
    await player.play();
  } catch {
    throw new Error('The recording cannot be played; it may have been deleted.');
  }
  tell(true);
}
