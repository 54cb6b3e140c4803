// A stand-in for the program's side of a dictation: it says what a test wants said.
// Takes a page; answers what the page asks of dictation, keeps what the page sends, and tells it messages. What the program
// itself says is tested in dictation.test.mjs; this is for what would take it an hour to come to: eighty findings, a broken line.
const ORDERS = [
  ['take-back', 'notebook, take that back'],
  ['what-is-left', 'notebook, what is left'],
  ['what-did-i-say', 'notebook, what did I say for the left knee'],
  ['mark', 'notebook, mark this moment'],
  ['pause', 'notebook, pause'],
  ['resume', 'notebook, go on'],
  ['end', 'notebook, end the dictation'],
];

export const KNOWN = {
  available: true,
  why: null,
  attention: 'notebook',
  orders: ORDERS.map(([name, phrase]) => ({ name, phrase })),
  sets: [
    { name: 'screening', title: 'Screening', items: 25 },
    { name: 'full', title: 'Everything', items: 74 },
  ],
  policy: 'until-signed',
  chosen: true,
  unfinished: [],
  running: null,
};

/** Stands in on a page that was not opened yet. `known` is laid over what is said of dictation. */
export async function standIn(page, known = {}) {
  const double = {
    known: { ...KNOWN, ...known },
    orders: [],
    blocks: 0,
    heard: 0,
    sockets: [],
    posts: [],
    answers: true,
  };
  await page.route('**/api/dictation', (route) => route.fulfill({ json: double.known }));
  await page.route('**/api/dictation/{keep-sound,drop}', (route) => {
    double.posts.push([new URL(route.request().url()).pathname, route.request().postDataJSON()]);
    return route.fulfill({ json: {} });
  });
  await page.routeWebSocket(/\/api\/dictation\/live$/, (socket) => {
    double.sockets.push(socket);
    socket.onMessage((sent) => take(double, socket, sent));
  });
  return Object.assign(double, {
    tell: (kind, more = {}) => double.sockets.at(-1).send(JSON.stringify({ kind, ...more })),
    names: () => double.orders.map(({ order }) => order),
  });
}

function take(double, socket, sent) {
  if (typeof sent !== 'string') {
    double.blocks += 1;
    double.length = sent.length;
    return;
  }
  const order = JSON.parse(sent);
  double.orders.push(order);
  if (!['begin', 'rejoin'].includes(order.order) || !double.answers) return;
  socket.send(JSON.stringify({ kind: 'ready', id: 'd1c7', heard: double.blocks, kept_ms: double.blocks * 100 }));
}

/** A finding as the program tells it. */
export function finding(item, region, side, words, more = {}) {
  return {
    item,
    name: item.replaceAll('-', ' '),
    region,
    side,
    words,
    approx: false,
    reasons: [],
    at: 0,
    newest: false,
    ...more,
  };
}

/** Findings of every item of a lexicon, in the order in which they could be said; both sides where there are two. */
export function many(lexicon, most) {
  const all = lexicon.items
    .filter(({ region, values }) => region !== 'infant' && values.length > 0)
    .flatMap((item, at) => {
      const value = item.values[at % item.values.length].words;
      const other = item.values[(at + 1) % item.values.length].words;
      const of = (side, words) => ({ ...finding(item.id, item.region, side, words), name: item.name });
      return item.paired ? [of('left', value), of('right', at % 3 === 0 ? other : value)] : [of('none', value)];
    });
  const doubts = ['side not said', 'heard unclearly', 'value uncertain'];
  return all.slice(0, most).map((of, at, { length }) => ({
    ...of,
    at: at * 5000,
    newest: at >= length - 2,
    reasons: at % 6 === 4 ? [doubts[at % 3]] : [],
  }));
}

/** What is left when these were found, by region. */
export function leftOf(lexicon, findings) {
  const found = new Set(findings.map(({ item }) => item));
  return lexicon.regions
    .filter((region) => region !== 'infant')
    .map((region) => ({
      region,
      items: lexicon.items.filter((item) => item.region === region && !found.has(item.id)).map(({ name }) => name),
    }))
    .filter(({ items }) => items.length > 0);
}
