// The line to the program: sound and orders there, what was understood back.
// Takes how a dictation begins; keeps the blocks of sound that the program has not got, for minutes, and hands them over when
// the line is back. Tells what comes in, and in a sentence what is wrong. Leaves alone what is shown of it.
const AGAIN_MS = 1000;
/** Ten minutes that were not sent; a minute that was, of which the program may not have got the end. */
const MOST = 6000;
const SENT = 600;
const SOON = 'The line to the program is broken; what is said is kept here, and handed over when it is back.';
const LATE =
  'The program has not answered for a while. What was said until then is on the disk: start `spoken-exam review` again, open the ' +
  'address that it prints, and make a draft of it there.';

/** Opens the line. `first` is the first order; `told(message)` gets what comes, `trouble(words)` what is wrong, or ''. */
export function open({ first, told, trouble }) {
  const line = { first, told, trouble, id: first.id ?? null, socket: null, ready: false, over: false, since: 0 };
  Object.assign(line, { blocks: [], start: 0, next: 0, offset: null, orders: [] });
  connect(line);
  return {
    /** Hands over a block of sound. */
    sound(block) {
      if (line.over) return;
      line.blocks.push(block);
      flush(line);
      const drop = Math.max(0, line.next - line.start - SENT, line.blocks.length - MOST);
      line.blocks.splice(0, drop);
      line.start += drop;
      line.next = Math.max(line.next, line.start);
    },
    /** Gives an order; it waits for the line. */
    order(order, more = {}) {
      line.orders.push(JSON.stringify({ order, ...more }));
      flush(line);
    },
    /** Hangs up; the program waits for a while for the page to come back. */
    close() {
      line.over = true;
      line.socket?.close();
    },
    get ready() {
      return line.ready;
    },
  };
}

function connect(line) {
  if (line.over) return;
  const socket = new WebSocket(`ws://${location.host}/api/dictation/live`);
  line.socket = socket;
  socket.binaryType = 'arraybuffer';
  socket.addEventListener('open', () => {
    const again = line.id && line.first.order !== 'recover';
    socket.send(JSON.stringify(again ? { order: 'rejoin', id: line.id } : line.first));
  });
  socket.addEventListener('message', ({ data }) => take(line, JSON.parse(data)));
  socket.addEventListener('close', () => {
    line.ready = false;
    if (line.over) return;
    line.since ||= Date.now();
    line.trouble(Date.now() - line.since > 20_000 ? LATE : SOON);
    setTimeout(() => connect(line), AGAIN_MS);
  });
}

function take(line, message) {
  if (message.kind === 'ready') {
    line.id = message.id;
    // The program counts the blocks of a dictation; a page that was loaded again begins to count anew.
    line.offset ??= message.heard;
    line.next = Math.max(line.start, message.heard - line.offset);
    line.ready = true;
    line.since = 0;
    line.trouble('');
    flush(line);
  }
  if (['refused', 'record', 'left'].includes(message.kind)) {
    line.over = true;
    line.trouble('');
  }
  line.told(message);
}

function flush(line) {
  if (!line.ready || line.socket.readyState !== WebSocket.OPEN) return;
  for (const block of line.blocks.slice(line.next - line.start)) line.socket.send(block);
  line.next = line.start + line.blocks.length;
  for (const order of line.orders.splice(0)) line.socket.send(order);
}
