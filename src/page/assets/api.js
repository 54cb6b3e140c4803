// Talking with the program that serves the page.
// Takes a path and a body; gives the answer, or throws a `Refused` with a plain sentence. Asks nobody but its own origin.

/** An answer that was no success. `body` is what the program said. */
export class Refused extends Error {
  constructor(status, body) {
    super(body.words ?? 'The program did not answer as expected; reload the page.');
    this.status = status;
    this.body = body;
  }
}

async function answered(path, options = {}) {
  let answer;
  try {
    answer = await fetch(path, { ...options, credentials: 'same-origin' });
  } catch {
    const words =
      'The program does not answer. Nothing was changed. Start it again with `spoken-exam review` and open the address it prints.';
    throw new Refused(0, { words });
  }
  if (answer.ok) return answer;
  throw new Refused(answer.status, await reasons(answer));
}

const ask = async (path, options) => (await answered(path, options)).json();

async function reasons(answer) {
  if (answer.status === 401) {
    return {
      words:
        'This page belongs to an earlier start of the program. Open the address that `spoken-exam review` printed last.',
    };
  }
  try {
    return await answer.json();
  } catch {
    return {};
  }
}

function send(path, body) {
  return ask(path, { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) });
}

const record = (id) => `/api/records/${encodeURIComponent(id)}`;

export const session = () => ask('/api/session');
export const lexicon = () => ask('/api/lexicon');
export const records = (query) => ask(`/api/records?${new URLSearchParams(query)}`);
export const read = (id) => ask(record(id));
export const decide = (id, body) => send(`${record(id)}/decide`, body);
export const confirmClear = (id, body) => send(`${record(id)}/confirm-clear`, body);
export const sign = (id, body) => send(`${record(id)}/sign`, body);
export const amend = (id, body) => send(`${record(id)}/amend`, body);
export const remark = (id, body) => send(`${record(id)}/remark`, body);
export const serial = (id) => ask(`${record(id)}/serial`);
/** A growth chart, as text. */
export const chart = async (id, measure) => (await answered(`${record(id)}/chart?measure=${measure}`)).text();
/** A record as a file: what is in it, and the name that the program gives it. */
export async function exported(id, kind) {
  const answer = await answered(`${record(id)}/export?as=${kind}`);
  const named = /filename="?([^";]+)"?/.exec(answer.headers.get('content-disposition') ?? '');
  return { blob: await answer.blob(), name: named?.[1] ?? `record.${kind}` };
}
export const soundAt = (id, from, to) => `${record(id)}/sound?from=${Math.round(from)}&to=${Math.round(to)}`;
export const previewMisheard = (body) => send('/api/misheard/preview', body);
export const keepMisheard = (body) => send('/api/misheard', body);
export const dictation = () => ask('/api/dictation');
export const keepSound = (policy) => send('/api/dictation/keep-sound', { policy });
export const dropDictation = (id) => send('/api/dictation/drop', { id });
