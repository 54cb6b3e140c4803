// Narrations of infants whose ages and findings are known, for tests of what a record shows beyond what was said.
// Gives a store with a draft of each, and ends it. All of them are invented.
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { records, stage } from './stage.mjs';

const DAY_TWO = `A boy, born at thirty-eight weeks and four days. He is two days old.
Head circumference thirty-four point six centimetres.
He weighed three thousand two hundred grams at birth.
The anterior fontanelle is bulging.
The cry is perhaps high-pitched.
He is crying now.
The popliteal angle is one hundred and fifty degrees on the left and ninety on the right.
Scarf sign past the midline on the left.
The suck is strong.
`;
const DAY_NINE = `A boy, born at thirty-eight weeks and four days. He is nine days old.
Head circumference thirty-five point four centimetres.
The anterior fontanelle is soft and flat.
The popliteal angle is ninety degrees on both sides.
The suck is strong.
`;
const NOBODY = `Born at thirty-eight weeks. Head circumference thirty-four centimetres. The suck is strong.
`;
/** Words by which a chart could know an infant; they are text, whatever they look like. */
export const LABEL = 'bay 2 <img src=x onerror=alert(1)> & cot 7';

/** A stage with `unusual.txt`, `day-two.txt`, `day-nine.txt`, `unknown.txt` and a sample of which no rule says anything. */
export async function infants() {
  const folder = mkdtempSync(join(tmpdir(), 'spoken-exam-beyond-'));
  const texts = { unusual: DAY_TWO, 'day-two': DAY_TWO, 'day-nine': DAY_NINE, unknown: NOBODY };
  for (const [name, text] of Object.entries(texts)) writeFileSync(join(folder, `${name}.txt`), text);
  const files = Object.keys(texts).map((name) => join(folder, `${name}.txt`));
  const on = await stage([...files, 'samples/bedside-round.txt']);
  const end = async () => {
    await on.end();
    rmSync(folder, { recursive: true });
  };
  return { ...on, end };
}

/** The id of the record of a file. */
export async function idOf(page, file) {
  return (await records(page)).find((known) => known.file_name === file).id;
}
