// The validator: official R4 examples pass, resources with one planted defect each are caught in the right place.
// Source of every rule here: the official R4 (4.0.1) definitions, whose examples (CC0) are the material that is damaged.
import assert from 'node:assert/strict';
import { describe, test } from 'node:test';
import { validate } from '../validate.mjs';
import { example } from './invented.mjs';

describe('the validator: official definitions', () => {
  const good = [
    'Patient-example', 'Encounter-f001', 'Procedure-f001', 'Procedure-ambulation', 'Procedure-example-implant', 'Observation-f001',
    'Observation-f205', 'Observation-blood-pressure', 'Observation-decimal', 'MedicationAdministration-medadmin0301',
    'MedicationAdministration-medadmin0307', 'MedicationStatement-example001', 'Task-example3', 'CarePlan-example', 'CarePlan-f001',
    'DocumentReference-example', 'GuidanceResponse-example', 'Provenance-example', 'Device-example', 'Binary-f006',
    'Bundle-bundle-transaction', 'Bundle-bundle-references', 'Subscription-example', 'CapabilityStatement-phr', 'Communication-example',
    'DetectedIssue-allergy', 'AuditEvent-example', 'Organization-f001', 'Location-1', 'ServiceRequest-example', 'CareTeam-example',
  ];

  for (const name of good) test(`official example ${name} passes`, () => assert.deepEqual(validate(example(name), { r5: false }), []));

  // [what is planted, example, damage, layer that must report it, path that must be named]
  const defects = [
    ['unknown type', 'Task-example3', (r) => { r.resourceType = 'Chore'; }, 'structure', 'Chore'],
    ['unknown member', 'Task-example3', (r) => { r.colour = 'red'; }, 'schema', 'Task'],
    ['missing required intent', 'Task-example3', (r) => { delete r.intent; }, 'structure', 'Task.intent'],
    ['missing required subject', 'CarePlan-example', (r) => { delete r.subject; }, 'structure', 'CarePlan.subject'],
    ['missing nested required element', 'Provenance-example', (r) => { delete r.agent[0].who; }, 'structure', 'Provenance.agent[0].who'],
    ['array for a single value', 'Task-example3', (r) => { r.status = [r.status]; }, 'structure', 'Task.status'],
    ['single value for an array', 'Task-example3', (r) => { r.note = { text: 'x' }; }, 'structure', 'Task.note'],
    ['empty array', 'Task-example3', (r) => { r.note = []; }, 'structure', 'Task.note'],
    ['empty object', 'Task-example3', (r) => { r.focus = {}; }, 'structure', 'Task.focus'],
    ['empty string', 'Task-example3', (r) => { r.description = ''; }, 'structure', 'Task.description'],
    ['null', 'Task-example3', (r) => { r.description = null; }, 'structure', 'Task.description'],
    ['status not in the value set', 'Task-example3', (r) => { r.status = 'done'; }, 'binding', 'Task.status'],
    ['intent of another type', 'CarePlan-example', (r) => { r.intent = 'original-order'; }, 'binding', 'CarePlan.intent'],
    ['status of another version', 'Encounter-f001', (r) => { r.status = 'discharged'; }, 'binding', 'Encounter.status'],
    ['not a MIME type', 'DocumentReference-example', (r) => { r.content[0].attachment.contentType = 'pdf'; }, 'binding', 'DocumentReference.content[0].attachment.contentType'],
    ['code that its system lacks', 'Observation-f001', (r) => { r.interpretation[0].coding[0].code = 'ZZ'; }, 'code', 'Observation.interpretation[0].coding[0]'],
    ['no such day', 'Observation-f001', (r) => { r.effectivePeriod.start = '2026-02-30'; }, 'structure', 'Observation.effectivePeriod.start'],
    ['no such month', 'Observation-f001', (r) => { r.effectivePeriod.start = '2026-13-01'; }, 'schema', 'Observation.effectivePeriod.start'],
    ['time without zone', 'Observation-f001', (r) => { r.effectivePeriod.start = '2026-02-03T10:00:00'; }, 'schema', 'Observation.effectivePeriod.start'],
    ['time without seconds', 'Observation-f001', (r) => { r.effectivePeriod.start = '2026-02-03T10:00Z'; }, 'schema', 'Observation.effectivePeriod.start'],
    ['instant with day precision', 'DocumentReference-example', (r) => { r.date = '2026-02-03'; }, 'schema', 'DocumentReference.date'],
    ['end before start (per-1)', 'Encounter-f001', (r) => { r.period = { start: '2026-02-03', end: '2026-02-02' }; }, 'invariant', 'Encounter.period'],
    ['two values', 'Observation-f001', (r) => { r.valueString = 'six'; }, 'structure', 'Observation.value[x]'],
    ['value and its absence (obs-6)', 'Observation-f001', (r) => { r.dataAbsentReason = { text: 'unknown' }; }, 'invariant', 'Observation'],
    ['unit code without system (qty-3)', 'Observation-f001', (r) => { delete r.valueQuantity.system; }, 'invariant', 'Observation.valueQuantity'],
    ['not a UCUM unit', 'Observation-f001', (r) => { r.valueQuantity.code = 'mcg'; }, 'ucum', 'Observation.valueQuantity'],
    ['number as text', 'Observation-f001', (r) => { r.valueQuantity.value = '6.3'; }, 'schema', 'Observation.valueQuantity.value'],
    ['comparator on a dose (sqty-1)', 'MedicationAdministration-medadmin0307', (r) => { r.dosage.dose.comparator = '<'; }, 'invariant', 'MedicationAdministration.dosage.dose'],
    ['dosage without dose or rate (mad-1)', 'MedicationAdministration-medadmin0307', (r) => { r.dosage = { text: 'some' }; }, 'invariant', 'MedicationAdministration.dosage'],
    ['medication missing', 'MedicationAdministration-medadmin0307', (r) => { delete r.medicationReference; delete r.medicationCodeableConcept; delete r.contained; }, 'structure', 'MedicationAdministration.medication[x]'],
    ['contained not referenced (dom-3)', 'MedicationAdministration-medadmin0301', (r) => { r.contained.push({ resourceType: 'Patient', id: 'idle' }); }, 'invariant', 'MedicationAdministration.contained'],
    ['contained reference to nothing (ref-1)', 'MedicationAdministration-medadmin0301', (r) => { r.medicationReference.reference = '#gone'; }, 'invariant', 'MedicationAdministration.medicationReference'],
    ['fault in a contained resource', 'MedicationAdministration-medadmin0301', (r) => { r.contained[0].status = 'fresh'; }, 'binding', 'MedicationAdministration.contained[0]<Medication>.status'],
    ['wrong reference target', 'CarePlan-example', (r) => { r.subject.reference = 'Practitioner/1'; }, 'reference', 'CarePlan.subject'],
    ['reference and detail (cpl-3)', 'CarePlan-example', (r) => { r.activity[0].reference = { reference: 'Task/1' }; r.activity[0].detail ??= { status: 'scheduled' }; }, 'invariant', 'CarePlan.activity[0]'],
    ['modified before authored (inv-1)', 'Task-example3', (r) => { r.authoredOn = '2026-03-02'; r.lastModified = '2026-03-01'; }, 'invariant', 'Task'],
    ['data without content type (att-1)', 'DocumentReference-example', (r) => { r.content[0].attachment = { data: 'aGk=' }; }, 'invariant', 'DocumentReference.content[0].attachment'],
    ['total on a transaction (bdl-1)', 'Bundle-bundle-transaction', (r) => { r.total = 3; }, 'invariant', 'Bundle'],
    ['entry without request (bdl-3)', 'Bundle-bundle-transaction', (r) => { delete r.entry[0].request; }, 'invariant', 'Bundle'],
    ['fullUrl twice (bdl-7)', 'Bundle-bundle-transaction', (r) => { r.entry[1].fullUrl = r.entry[0].fullUrl; }, 'invariant', 'Bundle'],
    ['fault in an entry', 'Bundle-bundle-transaction', (r) => { r.entry[0].resource.gender = 'f'; }, 'binding', 'Bundle.entry[0].resource<Patient>.gender'],
    ['contact without content (pat-1)', 'Patient-example', (r) => { r.contact = [{ relationship: [{ text: 'kin' }] }]; }, 'invariant', 'Patient.contact[0]'],
    ['onBehalfOf of a non-practitioner (ctm-1)', 'CareTeam-example', (r) => { r.participant[0] = { member: { reference: 'Patient/1' }, onBehalfOf: { reference: 'Organization/1' } }; }, 'invariant', 'CareTeam.participant[0]'],
    ['script in the narrative', 'Task-example3', (r) => { r.text = { status: 'generated', div: '<div xmlns="http://www.w3.org/1999/xhtml"><script>1</script>x</div>' }; }, 'narrative', 'Task.text.div'],
  ];

  for (const [what, name, damage, layer, where] of defects) {
    test(`caught: ${what}`, () => {
      const resource = example(name);
      damage(resource);
      const issues = validate(resource, { r5: false });
      const found = issues.some((issue) => issue.layer === layer && issue.where === where);
      assert.ok(found, `expected [${layer}] at ${where}, got ${JSON.stringify(issues)}`);
    });
  }

  // Each top-level member in turn gets what no FHIR element can be.
  for (const name of ['Task-example3', 'CarePlan-f001', 'DocumentReference-example', 'Provenance-example', 'GuidanceResponse-example']) {
    test(`caught: a broken value in any member of ${name}`, () => {
      for (const member of Object.keys(example(name)).filter((key) => key !== 'resourceType')) {
        for (const wrong of [[[]], [null], { unheardOf: 1 }, -0.5]) {
          const issues = validate({ ...example(name), [member]: wrong }, { r5: false });
          assert.ok(issues.length, `${member} = ${JSON.stringify(wrong)} passed`);
        }
      }
    });
  }

  test('malformed beyond any shape is an issue, never an exception', () => {
    for (const nothing of [null, 7, 'Task', [], {}, { resourceType: 7 }, { resourceType: 'Task', code: { coding: 7 }, restriction: 1 }]) {
      assert.ok(validate(nothing).length > 0, JSON.stringify(nothing));
    }
  });
});
