// What a record comes to on the page, as plain values: rows, sections, order, counts.
// Takes a record as the program gives it and the lexicon; gives values. Touches no element, keeps nothing.

/** decided, eye or clear. */
export function kindOf(finding) {
  if (finding.decision) return 'decided';
  return finding.clear ? 'clear' : 'eye';
}

/** How many need the eye, are clear, are decided. Each finding counts once. */
export function counts(record) {
  const tally = { eye: 0, clear: 0, decided: 0 };
  for (const finding of record.findings) tally[kindOf(finding)] += 1;
  return { ...tally, open: tally.eye + tally.clear };
}

/** The side that a finding stands under now; one that was rejected stays where it was. */
export function sideOf(finding) {
  return (finding.now ?? finding).side;
}

/** Findings of one item together, in the record's order. */
export function rows(record, lexicon) {
  const byItem = new Map();
  for (const finding of record.findings) {
    const known = lexicon.byId.get(finding.item);
    const paired = known ? known.paired : ['left', 'right', 'unstated'].includes(finding.side);
    const fresh = { item: finding.item, name: finding.name, region: finding.region, paired, findings: [] };
    if (!byItem.has(finding.item)) byItem.set(finding.item, fresh);
    byItem.get(finding.item).findings.push(finding);
  }
  return [...byItem.values()].map((row) => ({ ...row, differs: differs(row) }));
}

/** The findings of a row on one side. */
export function onSide(row, side) {
  return row.findings.filter((finding) => sideOf(finding) === side);
}

/** Whether left and right both stand and are not the same. */
export function differs(row) {
  if (!row.paired) return false;
  const said = (side) =>
    onSide(row, side)
      .filter((finding) => finding.now)
      .map((finding) => finding.now.value)
      .sort();
  const [left, right] = [said('left'), said('right')];
  return left.length > 0 && right.length > 0 && left.join() !== right.join();
}

/** Rows in the order of the page: what needs the eye, then the infant and the regions, then what was added by hand. */
export function sections(record, lexicon) {
  const all = rows(record, lexicon);
  const drafted = (finding) => finding.id.startsWith('d');
  const needsEye = (row) => row.findings.some((finding) => drafted(finding) && !finding.clear);
  const byHand = (row) => !row.findings.some(drafted);
  const eye = all.filter(needsEye);
  const added = all.filter((row) => !needsEye(row) && byHand(row));
  const rest = all.filter((row) => !needsEye(row) && !byHand(row));
  const names = [...new Set([...contextRegions(record), ...lexicon.regions, ...rest.map((row) => row.region)])];
  const regions = names.map((name) => ({ name, rows: rest.filter((row) => row.region === name) }));
  return { eye, regions: regions.filter((region) => region.rows.length > 0), added };
}

function contextRegions(record) {
  return record.findings.filter((finding) => finding.context).map((finding) => finding.region);
}

/** The findings of a row as they stand on the page: without a side, right, left. */
export function inRow(row) {
  const sided = [...onSide(row, 'right'), ...onSide(row, 'left')];
  return [...row.findings.filter((finding) => !sided.includes(finding)), ...sided];
}

/** Ids of all findings in the order of the page. */
export function order(parts) {
  const all = [...parts.eye, ...parts.regions.flatMap((region) => region.rows), ...parts.added];
  return all.flatMap(inRow).map((finding) => finding.id);
}

/** The next undecided finding behind `from`, around the end; null when all are decided. */
export function nextOpen(record, ids, from) {
  const open = new Set(record.findings.filter((finding) => !finding.decision).map((finding) => finding.id));
  const at = ids.indexOf(from);
  const around = [...ids.slice(at + 1), ...ids.slice(0, at + 1)];
  return around.find((id) => open.has(id)) ?? null;
}

/** Where a review begins: the first that needs the eye, else the first undecided; null when all are decided. */
export function firstOpen(record, ids) {
  const eye = new Set(record.findings.filter((finding) => kindOf(finding) === 'eye').map((finding) => finding.id));
  return ids.find((id) => eye.has(id)) ?? nextOpen(record, ids, null);
}

/** The part of the body that regions come to, by side: what a drawing shows. */
export function places(record, lexicon) {
  const found = new Map();
  const put = (region, side, finding) => {
    const key = `${region}|${side}`;
    if (!found.has(key)) found.set(key, { region, side, eye: 0, clear: 0, decided: 0, differs: false });
    if (finding) found.get(key)[kindOf(finding)] += 1;
    return found.get(key);
  };
  for (const row of rows(record, lexicon)) {
    for (const finding of row.findings) for (const side of sidesFor(sideOf(finding))) put(row.region, side, finding);
    if (row.differs) for (const side of ['', 'left', 'right']) put(row.region, side, null).differs = true;
  }
  return found;
}

function sidesFor(side) {
  if (side === 'left' || side === 'right') return ['', side];
  return ['', 'left', 'right'];
}

/** nothing, eye, clear or decided: the most pressing of what a place holds. */
export function placeState(place) {
  if (!place) return 'nothing';
  if (place.eye > 0) return 'eye';
  if (place.clear > 0) return 'clear';
  return place.decided > 0 ? 'decided' : 'nothing';
}

/** A text cut where a mark begins or ends: `[{text, marks: ["item", ...]}]`. Offsets are UTF-16; without them nothing is marked. */
export function marked(text, given) {
  const cuts = new Set([0, text.length]);
  const spans = given.filter((span) => Number.isInteger(span.start) && Number.isInteger(span.end));
  for (const span of spans) for (const at of [span.start, span.end]) if (at > 0 && at < text.length) cuts.add(at);
  const sorted = [...cuts].sort((a, b) => a - b);
  return sorted.slice(0, -1).map((from, at) => ({
    text: text.slice(from, sorted[at + 1]),
    marks: spans.filter((span) => span.start <= from && span.end >= sorted[at + 1]).map((span) => span.kind),
  }));
}
