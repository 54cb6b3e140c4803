// The microphone: opened, and opened again whenever it fails.
// Takes a device and what is to be done with each block of sound; tells in a sentence what is wrong, or '' when
// nothing is, and whether it is deaf. Tries again by itself every second until it works: a lid that was closed, a plug that
// was pulled, a permission that comes late. How long nothing was heard is told when something is again.
const RATE = 16000;
/** Left as it is: what is meant for telephones takes quiet speech for noise. */
const PLAIN = { channelCount: 1, echoCancellation: false, noiseSuppression: false, autoGainControl: false };
const SILENT_MS = 2500;
const ZEROS_MS = 5000;
/** Blocks come every tenth of a second; a busy browser may hold them back for a while. */
const MISSING_MS = 1500;

const TOUCH = 'The browser holds the sound back until the page is touched: touch it anywhere once, or press a key.';
const WHY = {
  NotAllowedError:
    'This page may not hear the microphone. Allow it with the sign beside the address, or in the settings of the browser; ' +
    'it is tried again by itself.',
  NotFoundError: 'There is no microphone. Plug one in; it is tried again by itself.',
  NotReadableError:
    'The microphone cannot be opened: another program may hold it, or the machine has switched it off. It is tried again by itself.',
};
const words = (error) =>
  WHY[error.name] ?? `The microphone cannot be opened (${error.message}). It is tried again by itself.`;

/** Microphones by name; without permission they have none. */
export async function devices() {
  const all = (await navigator.mediaDevices?.enumerateDevices?.()) ?? [];
  return all
    .filter(({ kind, deviceId }) => kind === 'audioinput' && deviceId)
    .map(({ deviceId, label }) => ({ id: deviceId, label }));
}

/** `granted`, `denied`, `prompt`, or `unknown` where the browser does not tell. */
export async function permission() {
  try {
    return (await navigator.permissions.query({ name: 'microphone' })).state;
  } catch {
    return 'unknown';
  }
}

/** How loud a block is, of full scale in decibels. */
export function loudness(block) {
  let sum = 0;
  for (const sample of block) sum += sample * sample;
  return 10 * Math.log10(sum / block.length / 32768 ** 2 + 1e-10);
}

/** Listens until `stop()`. `heardAt` is when something was heard last, where that was before. */
export function listen({ device = '', take, trouble, away = () => {}, heardAt = null }) {
  const ear = { stopped: false, opening: false, open: null, heardAt: Date.now(), loudAt: Date.now(), other: '' };
  let blockAt = heardAt;
  const tell = (said, deaf = said !== '') => ear.stopped || trouble(said, deaf);
  const heard = (block) => {
    ear.heardAt = Date.now();
    const missing = blockAt === null ? 0 : ear.heardAt - blockAt;
    if (missing > MISSING_MS) away(missing);
    blockAt = ear.heardAt;
    if (block.some((sample) => sample !== 0)) ear.loudAt = ear.heardAt;
    take(block);
  };
  const tick = () => watch(ear, device, heard, tell);
  const timer = setInterval(tick, 1000);
  navigator.mediaDevices?.addEventListener('devicechange', tick);
  tick();
  return {
    stop() {
      ear.stopped = true;
      clearInterval(timer);
      navigator.mediaDevices?.removeEventListener('devicechange', tick);
      close(ear);
    },
  };
}

async function watch(ear, device, heard, tell) {
  if (ear.stopped || ear.opening) return;
  if (!ear.open || ear.open.track.readyState === 'ended') {
    await reopen(ear, device, heard, tell);
    return;
  }
  const { context, track } = ear.open;
  const silent = Date.now() - ear.heardAt;
  if (context.state !== 'running') {
    // It is not waited for: without a touch some browsers never answer.
    context.resume().catch(() => {});
    if (silent > SILENT_MS) tell(TOUCH);
    if (silent > 4 * SILENT_MS && navigator.userActivation?.isActive) close(ear);
    return;
  }
  if (silent > SILENT_MS) {
    tell('No sound comes from the microphone; it is opened again.');
    close(ear);
  } else if (track.muted) tell('The microphone is switched off by the machine or the browser.');
  else if (Date.now() - ear.loudAt > ZEROS_MS)
    tell('The microphone gives nothing but silence: is it switched off?', false);
  else tell(ear.other, false);
}

async function reopen(ear, device, heard, tell) {
  close(ear);
  ear.opening = true;
  try {
    ear.open = await start(device, heard);
    ear.heardAt = Date.now();
    ear.loudAt = Date.now();
    const missing = device && ear.open.track.getSettings?.().deviceId !== device;
    ear.other = missing
      ? `The chosen microphone is gone; listening with ${ear.open.track.label || 'another one'}.`
      : '';
    ear.open.track.addEventListener('ended', () => tell('The microphone went away; it is tried again by itself.'));
    tell(ear.other, false);
  } catch (error) {
    tell(words(error));
  }
  ear.opening = false;
  if (ear.stopped) close(ear);
}

function close(ear) {
  ear.open?.track.stop();
  ear.open?.context.close().catch(() => {});
  ear.open = null;
}

async function start(device, heard) {
  const stream = await ask(device);
  const [track] = stream.getAudioTracks();
  const context = new AudioContext({ sampleRate: RATE });
  try {
    await context.audioWorklet.addModule('/assets/blocks.js');
    const shape = { numberOfInputs: 1, numberOfOutputs: 0, channelCount: 1, channelCountMode: 'explicit' };
    const blocks = new AudioWorkletNode(context, 'blocks', shape);
    blocks.port.onmessage = ({ data }) => heard(new Int16Array(data));
    context.createMediaStreamSource(stream).connect(blocks);
  } catch (error) {
    track.stop();
    context.close();
    throw error;
  }
  return { track, context };
}

async function ask(device) {
  if (!navigator.mediaDevices) throw new Error('the browser gives none to this page');
  const with_ = (more) => navigator.mediaDevices.getUserMedia({ audio: { ...PLAIN, ...more } });
  if (!device) return with_({});
  try {
    return await with_({ deviceId: { exact: device } });
  } catch (error) {
    if (error.name === 'NotAllowedError') throw error;
    return with_({});
  }
}
