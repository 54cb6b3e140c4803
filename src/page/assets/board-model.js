// What somebody standing away is shown, as plain values: what was found by region, newest first, and what is left.
// Takes findings as the program tells them; gives values. Touches no element, keeps nothing.
/** Findings of an item: those that say the same of left and right stand as one. */
export function rows(findings) {
  const byItem = new Map();
  for (const finding of findings) {
    const row = byItem.get(finding.item) ?? {
      item: finding.item,
      name: finding.name,
      region: finding.region,
      parts: [],
    };
    byItem.set(finding.item, row);
    const same = row.parts.find((part) => isOtherSide(part, finding));
    if (same)
      Object.assign(same, {
        sides: [...same.sides, finding.side],
        at: Math.max(same.at, finding.at),
        newest: same.newest || finding.newest,
      });
    else row.parts.push({ ...finding, sides: [finding.side] });
  }
  return [...byItem.values()].map(whole).sort(newestFirst);
}

function isOtherSide(part, finding) {
  const sides = new Set([...part.sides, finding.side]);
  const both = sides.size === 2 && sides.has('left') && sides.has('right');
  return both && part.words === finding.words && part.reasons.join() === finding.reasons.join();
}

function whole(row) {
  return {
    ...row,
    at: Math.max(...row.parts.map((part) => part.at)),
    newest: row.parts.some((part) => part.newest),
    eye: row.parts.some((part) => part.reasons.length > 0),
    count: row.parts.reduce((sum, part) => sum + part.sides.length, 0),
  };
}

// What is new stands before what was only said later in the recording: a correction can change what is older.
function newestFirst(one, other) {
  return Number(other.newest) - Number(one.newest) || other.at - one.at;
}

/** Regions with their rows; the region that was spoken of last comes first. */
export function regions(findings) {
  const byRegion = new Map();
  for (const row of rows(findings)) byRegion.set(row.region, [...(byRegion.get(row.region) ?? []), row]);
  return [...byRegion].map(([region, of]) => ({
    region,
    rows: of,
    count: of.reduce((sum, row) => sum + row.count, 0),
    eye: of.filter((row) => row.eye).length,
  }));
}

/** How many findings, and of how many things the eye is needed. */
export function tally(findings) {
  return { found: findings.length, eye: findings.filter((finding) => finding.reasons.length > 0).length };
}

/**
 * How many rows of each region are shown: all of what was spoken of last, then as much of the older regions as there is room
 * for. `fits(rooms)` says whether there is. What is not shown is counted.
 */
export function rooms(found, fits) {
  const room = found.map((_, at) => (at === 0 ? 1 : 0));
  for (const [at, region] of found.entries()) {
    if (fits(room.with(at, region.rows.length))) room[at] = region.rows.length;
    else {
      room[at] = most((rows) => fits(room.with(at, rows)), room[at], region.rows.length);
      return room;
    }
  }
  return room;
}

// The greatest number that holds; the first does, and the last does not.
function most(holds, first, last) {
  if (last - first <= 1) return first;
  const half = Math.floor((first + last) / 2);
  return holds(half) ? most(holds, half, last) : most(holds, first, half);
}

/** Rows of a region that are shown where there is room for so many: what is new, what needs the eye, then the newest. */
export function shown(region, room) {
  const first = [...region.rows].sort(
    (one, other) => Number(other.newest) - Number(one.newest) || Number(other.eye) - Number(one.eye),
  );
  const kept = new Set(first.slice(0, room));
  return region.rows.filter((row) => kept.has(row));
}

/** "left and right", "side not said", or nothing. */
export function sidesWords(sides) {
  if (sides.length === 2) return 'left and right';
  return { left: 'left', right: 'right', unstated: 'side not said' }[sides[0]] ?? '';
}

/** What is left by region in the lexicon's order, but for the region that was spoken of last: it comes first. */
export function left(regionsLeft, found) {
  const current = found[0]?.region;
  const open = regionsLeft.filter(({ items }) => items.length > 0);
  const first = open.filter(({ region }) => region === current);
  return [...first, ...open.filter((of) => !first.includes(of))].map((of) => ({ ...of, count: of.items.length }));
}

/** The end of what is being said, as far as there is room for so many letters. */
export function tail(words, letters) {
  if (words.length <= letters) return words;
  const end = words.slice(words.length - letters + 2);
  return `… ${end.slice(end.indexOf(' ') + 1)}`;
}
