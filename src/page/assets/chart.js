// Growth charts: the measurement among the curves of the standard that its figure is from.
// Takes the drawing as the program makes it, in words that this page understands as a drawing and as nothing else; gives it as part
// of the page, since only there it has the page's colours. Its words stand for it where it is not seen.
import * as api from './api.js';
import { figureWords } from './beside.js';
import { el, fill, unseen } from './dom.js';
import { capital } from './words.js';

const DRAWS = new Set(
  'svg g path line polyline polygon circle ellipse rect text tspan title desc defs clippath pattern use'.split(' '),
);

/** Fills a place with the charts of a record; `kept` remembers which measure was looked at, and drawings. */
export async function show(place, record, kept) {
  const sizes = new Map();
  for (const size of record.computed.sizes)
    if (size.z !== null) sizes.set(size.measure, [...(sizes.get(size.measure) ?? []), size]);
  if (sizes.size === 0) return fill(place);
  const measure = sizes.has(kept.measure) ? kept.measure : [...sizes.keys()][0];
  const figure = el('figure', { class: 'chart' });
  const pick = (chosen) => {
    kept.measure = chosen;
    return draw(figure, record, sizes.get(chosen), kept);
  };
  fill(place, el('h3', {}, 'Growth chart'), sizes.size > 1 ? chips(sizes, measure, pick) : null, figure);
  return pick(measure);
}

function chips(sizes, measure, pick) {
  const chip = ([id, [size]]) => {
    const input = el('input', { type: 'radio', name: 'chart', value: id, checked: id === measure });
    input.addEventListener('change', () => pick(id));
    return el('label', { class: 'chip' }, input, el('span', {}, capital(size.name.replace(/^birth /, ''))));
  };
  return el('fieldset', { class: 'chips' }, el('legend', { class: 'unseen' }, 'Chart of'), [...sizes].map(chip));
}

async function draw(figure, record, sizes, kept) {
  const words = sizes.map(
    (size) => `${capital(size.name)} ${size.value}: ${figureWords(size)}; ${size.standard}, ${size.used}`,
  );
  const caption = el(
    'figcaption',
    { class: 'quiet' },
    words.map((line) => el('span', {}, `${line}.`)),
  );
  const key = `${record.infant?.words} ${words.join()}`;
  try {
    if (!kept.charts.has(key)) kept.charts.set(key, parsed(await api.chart(record.id, sizes[0].measure)));
    const svg = document.importNode(kept.charts.get(key), true);
    svg.setAttribute('role', 'img');
    svg.setAttribute('aria-label', words.join('. '));
    // On a phone it is moved within its place: smaller, nobody could read its figures.
    fill(
      figure,
      el('div', { class: 'wide', tabindex: '0', role: 'group', 'aria-label': 'Growth chart' }, svg),
      caption,
    );
  } catch (error) {
    fill(figure, el('p', {}, unseen('Chart: '), error.message), caption);
  }
}

// Only what draws gets in: no scripts, no styles of its own, nothing that asks for something elsewhere.
function parsed(text) {
  const svg = new DOMParser().parseFromString(text, 'image/svg+xml').documentElement;
  if (svg.localName !== 'svg') throw new Error('The chart could not be drawn.');
  for (const part of [svg, ...svg.querySelectorAll('*')]) {
    if (!DRAWS.has(part.localName.toLowerCase())) part.remove();
    for (const { name, value } of [...part.attributes])
      if (/^on|^style$/i.test(name) || (/href$/i.test(name) && !value.startsWith('#'))) part.removeAttribute(name);
  }
  return svg;
}
