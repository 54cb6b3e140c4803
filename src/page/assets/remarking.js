// What is said of a record that is no finding: whose it is, when it was, why a prompt is put aside; and files that are taken out.
// Takes a page as deciding.js does; sends remarks to the program, and shows the record as it is then, where the reader was. Leaves
// alone how anything looks.
import * as api from './api.js';
import { Deciding } from './deciding.js';
import { fetchFile } from './exports.js';
import * as infant from './infant.js';
import * as prompts from './prompts.js';
import * as who from './who.js';

/** What can be done by button beyond deciding; each in turn with the rest. */
export const REMARKS = ['putAside', 'whose', 'keepFile'];

export class Remarking extends Deciding {
  /** Sends a remark; gives the record as the program knows it then. */
  remark(by, said) {
    return api.remark(this.record.id, { by, ...said });
  }

  async putAside(prompt) {
    const by = await who.ask();
    if (!by) return;
    const send = (reason) => this.remark(by, { put_aside: { prompt: prompt.id, reason } });
    const record = await prompts.putAside(prompt, send);
    if (record) this.remarked(record, `Put aside: ${prompt.said.join(', ')}.`, 'prompts-head');
  }

  async whose() {
    const by = await who.ask();
    if (!by) return;
    const record = await infant.edit(this.record, (said) => this.remark(by, said));
    if (record) this.remarked(record, 'Written.', 'whose-head');
  }

  async keepFile(kind, words) {
    const name = await fetchFile(this.record.id, kind);
    this.app.trouble('');
    this.say(`${words}: ${name}`);
  }

  // Nothing was decided, so the reader stays where they were.
  remarked(record, words, place) {
    this.record = record;
    this.app.trouble('');
    this.draw();
    this.say(words);
    document.getElementById(place)?.focus();
  }
}
