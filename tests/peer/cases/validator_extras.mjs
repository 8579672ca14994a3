// The checks beyond the R4 definitions, and the command line.
import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { after, describe, test } from 'node:test';
import { fileURLToPath } from 'node:url';
import { structureDefinitions } from '../definitions.mjs';
import { narrativeFaults } from '../validator/narrative.mjs';
import { main, validate } from '../validate.mjs';
import * as invented from './invented.mjs';

describe('the validator: beyond the definitions, command line', () => {
  const { patient, carePlan, task, documentReference, binary, post, put, transaction, urn } = invented;
  const div = (inner, xmlns = 'http://www.w3.org/1999/xhtml') => `<div xmlns="${xmlns}">${inner}</div>`;

  // Source: FHIR R4 narrative.html, txt-1 and txt-2.
  test('narrative: what R4 allows passes', () => {
    for (const inner of [
      '<p>Right groin, 6&#160;F &lt; 7 F &amp; more</p>',
      '<table class="grid" summary="s"><thead><tr><th colspan="2">At</th></tr></thead><tbody><tr><td style="x: y">10:00</td></tr></tbody></table>',
      '<ul><li><b>bed</b><br/></li></ul><a href="#t">t</a>',
      '<img src="#pic" alt=""/>',
      'Grüße — 患者',
    ]) assert.deepEqual(narrativeFaults(div(inner)), [], inner);
  });

  test('narrative: what R4 forbids is named', () => {
    for (const [xhtml, fault] of [
      [div('<p>a'), /not well-formed/],
      [div('<b><i>a</b></i>'), /not well-formed/],
      [div('a & b'), /not well-formed/],
      [div('a&nbsp;b'), /not well-formed/],
      [div('<p class=x>a</p>'), /not well-formed/],
      [div('a<br>b'), /not well-formed/],
      ['just text', /not well-formed/],
      ['<p xmlns="http://www.w3.org/1999/xhtml">a</p>', /not <div>/],
      [div('a', 'http://www.w3.org/2000/svg'), /namespace/],
      ['<div>a</div>', /namespace/],
      [div('<script>a</script>'), /<script> is not allowed/],
      [div('<input type="text"/>a'), /<input> is not allowed/],
      [div('<p onclick="go()">a</p>'), /onclick is not allowed/],
      [div('<a href=" javascript:go()">a</a>'), /carries script/],
      [div(' <p> </p> '), /txt-2/],
      [`<!DOCTYPE div>${div('a')}`, /document type/],
    ]) assert.match(narrativeFaults(xhtml).join('; '), fault, xhtml);
  });

  // Source: FHIR R5 Task, tsk-1.
  test('a Task with restriction must also be valid as R5', () => {
    const good = task(1, 'Patient/1', 'CarePlan/1');
    assert.deepEqual(validate(good), []);
    const where = (resource) => validate(resource).filter((issue) => issue.layer === 'r5').map((issue) => issue.where);
    assert.deepEqual(where({ ...good, code: { text: 'x' } }), ['Task.code']);
    assert.deepEqual(where({ ...good, focus: undefined }), ['Task.focus']);
    assert.deepEqual(where({ ...good, code: { text: 'x' }, focus: undefined, restriction: undefined }), []);
    assert.deepEqual(validate({ ...good, code: { text: 'x' } }, { r5: false }), []);
  });

  const firstWrite = () => transaction(
    put({ ...carePlan('Patient/1', { activity: [{ reference: { reference: urn(1) } }] }), id: 'plan' }, 'W/"1"'),
    post(task(1, 'Patient/1', 'CarePlan/plan'), 1),
    post(binary(), 2),
    post(documentReference('Patient/1', urn(2)), 3),
  );

  test('transaction: local references must lead somewhere', () => {
    const known = new Set(['Patient/1']);
    assert.deepEqual(validate(firstWrite(), { known }), []);
    assert.deepEqual(validate(firstWrite()), [], 'without a list of known resources Type/id is trusted');
    const faults = (damage) => {
      const bundle = firstWrite();
      damage(bundle.entry);
      return validate(bundle, { known }).filter((issue) => issue.layer === 'bundle').map((issue) => issue.where);
    };
    assert.deepEqual(faults((e) => { e[0].resource.activity[0].reference.reference = urn(9); }), ['Bundle.entry[0].resource.activity[0].reference.reference']);
    assert.deepEqual(faults((e) => { e[3].resource.content[0].attachment.url = urn(9); }), ['Bundle.entry[3].resource.content[0].attachment.url']);
    assert.deepEqual(faults((e) => { e[1].resource.focus.reference = 'CarePlan/other'; }), ['Bundle.entry[1].resource.focus.reference']);
    assert.deepEqual(faults((e) => { e[1].resource.for.reference = 'Patient/2'; }), ['Bundle.entry[1].resource.for.reference']);
    assert.deepEqual(faults((e) => { e[1].resource.focus.reference = 'CarePlan/plan/_history/1'; }), []);
  });

  /** The official Patient with a slice: exactly one identifier of our invented system. */
  function labelledPatient() {
    const official = structureDefinitions().find((definition) => definition.id === 'Patient');
    const elements = structuredClone(official.snapshot.element);
    const at = elements.findIndex((element) => element.id === 'Patient.identifier');
    elements[at].slicing = { discriminator: [{ type: 'value', path: 'system' }], rules: 'open' };
    const base = { min: 0, max: '*' };
    elements.splice(at + 1, 0,
      { id: 'Patient.identifier:own', path: 'Patient.identifier', sliceName: 'own', min: 1, max: '1', base, type: [{ code: 'Identifier' }] },
      { id: 'Patient.identifier:own.system', path: 'Patient.identifier.system', min: 1, max: '1', base, type: [{ code: 'uri' }], fixedUri: 'https://invented.example/id' });
    const url = 'https://invented.example/StructureDefinition/labelled';
    return { ...official, url, name: 'Labelled', derivation: 'constraint', snapshot: { element: elements } };
  }

  test('profile with a slice', () => {
    const profiles = [labelledPatient()];
    assert.deepEqual(validate(patient(), { profiles }), []);
    const other = { ...patient(), identifier: [{ system: 'https://other.example', value: '1' }] };
    assert.deepEqual(validate(other, { profiles }).map((issue) => issue.layer), ['profile']);
  });

  const folder = mkdtempSync(path.join(tmpdir(), 'peer-validate-'));
  after(() => rmSync(folder, { recursive: true }));
  const run = (...args) => {
    const lines = [];
    const status = main(args, (line) => lines.push(line));
    return { status, stdout: lines.join('\n') };
  };

  test('command line: files, NDJSON, folders, exit codes', () => {
    const write = (name, text) => writeFileSync(path.join(folder, name), text);
    mkdirSync(path.join(folder, 'below'));
    write('good.json', JSON.stringify(firstWrite()));
    write('mixed.ndjson', `${JSON.stringify(patient())}\n\n${JSON.stringify({ ...patient(), gender: 'x' })}\n`);
    write('below/broken.json', '{"resourceType":"Patient"');
    const good = run('--known', 'Patient/1', path.join(folder, 'good.json'));
    assert.equal(good.status, 0, good.stdout);
    assert.match(good.stdout, /1 files without faults, 0 with faults/);

    const all = run('--quiet', folder);
    assert.equal(all.status, 1);
    assert.match(all.stdout, /BAD {2}.*mixed\.ndjson\n {5}\[schema\] line 3: Patient\.gender/);
    assert.match(all.stdout, /BAD {2}.*below\/broken\.json\n {5}\[json\] .*not JSON/);
    assert.match(all.stdout, /1 files without faults, 2 with faults/);

    const json = run('--json', path.join(folder, 'mixed.ndjson'));
    assert.deepEqual(JSON.parse(json.stdout).issues.map((issue) => issue.layer), ['schema', 'binding']);
    assert.equal(run('--colour', folder).status, 2);
    const program = fileURLToPath(new URL('../validate.mjs', import.meta.url));
    assert.throws(() => execFileSync(process.execPath, [program, path.join(folder, 'mixed.ndjson')]), { status: 1 });
  });
});
