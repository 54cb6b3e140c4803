// Keeps the screen on while somebody looks at it from afar.
// Takes nothing; asks the browser, and again whenever the page comes back into sight. Without the browser's help nothing happens.
let lock = null;
let wanted = false;

async function ask() {
  if (!wanted || document.visibilityState !== 'visible') return;
  try {
    lock = (await navigator.wakeLock?.request('screen')) ?? null;
    if (!wanted) lock?.release();
  } catch {
    lock = null;
  }
}

document.addEventListener('visibilitychange', ask);

/** Keeps the screen on from now on, or no longer. */
export function keep(on) {
  wanted = on;
  if (on) ask();
  else lock?.release().catch(() => {});
}
