// Making elements without HTML text.
// Takes a tag, properties and children; gives elements. Data gets in as text only, so nothing that was said can become markup.

/** An element. `class`, `data`, `on` and attributes in `props`; children are nodes, texts, or nothing. */
export function el(tag, props = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(props)) {
    if (value === null || value === undefined || value === false) continue;
    if (name === 'class') made.className = value;
    else if (name === 'data') Object.assign(made.dataset, value);
    else if (name === 'on') for (const [kind, act] of Object.entries(value)) made.addEventListener(kind, act);
    else if (name in made && typeof value !== 'string') made[name] = value;
    else made.setAttribute(name, value === true ? '' : value);
  }
  made.append(...children.flat(Infinity).filter((child) => child !== null && child !== undefined && child !== false));
  return made;
}

/** Puts these in the place of what is in an element. */
export function fill(parent, ...children) {
  parent.replaceChildren(
    ...children.flat(Infinity).filter((child) => child !== null && child !== undefined && child !== false),
  );
  return parent;
}

/** A button with the key that does the same. `key` is shown, and told to assistive technology. */
export function button(words, act, { key, shown, kind = '', ...props } = {}) {
  const keys = key ? el('kbd', { 'aria-hidden': 'true' }, shown ?? key) : null;
  return el(
    'button',
    {
      type: 'button',
      class: kind,
      'aria-keyshortcuts': key,
      on: act ? { click: act } : {},
      ...props,
    },
    el('span', {}, words),
    keys,
  );
}

/** Text for assistive technology alone. */
export function unseen(words) {
  return el('span', { class: 'unseen' }, words);
}

/** A key cap. */
export function kbd(words) {
  return el('kbd', {}, words);
}
