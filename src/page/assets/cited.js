// Where something that was reckoned is from, and how sure that is.
// Takes sources with their marks; gives elements. Leaves alone what rests on them.
import { el } from './dom.js';

/** The word that stands beside whatever nobody said. */
export function computedLabel() {
  return el('span', { class: 'reckoned-label' }, 'computed');
}

/** A list of sources, each once, with its mark ("inferred", "from memory") and the rules that rest on it. */
export function sources(cited) {
  const bySource = new Map();
  for (const { rule, source, mark } of cited) {
    const key = `${source}|${mark ?? ''}`;
    if (!bySource.has(key)) bySource.set(key, { source, mark, rules: [] });
    if (rule) bySource.get(key).rules.push(rule);
  }
  const lines = [...bySource.values()].map(({ source, mark, rules }) =>
    el(
      'li',
      {},
      `Source: ${source}`,
      // "common practice, no source" says of itself what it is.
      mark && mark !== source ? [' ', el('span', { class: 'source-mark' }, mark)] : null,
      rules.length > 0 ? el('span', { class: 'rule-ids' }, ` (${rules.join(', ')})`) : null,
    ),
  );
  return el('ul', { class: 'sources', 'aria-label': 'Sources' }, lines);
}

/** The same of one source without a rule. */
export const source = (words) => sources([{ rule: null, source: words, mark: null }]);
