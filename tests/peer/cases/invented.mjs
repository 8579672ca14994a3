// Invented resources for the tests of the peer. Nobody in them exists; every patient carries the HTEST label.
import { readFileSync } from 'node:fs';
import path from 'node:path';
import { exampleFolder } from '../definitions.mjs';

export const htest = { system: 'http://terminology.hl7.org/CodeSystem/v3-ActReason', code: 'HTEST' };
const identifierSystem = 'https://invented.example/id';
const taskCodes = 'http://hl7.org/fhir/CodeSystem/task-code';

const meta = () => ({ security: [htest] });
const generated = (text) => ({ status: 'generated', div: `<div xmlns="http://www.w3.org/1999/xhtml"><p>${text}</p></div>` });
export const identifier = (value) => [{ system: identifierSystem, value }];
export const urn = (n) => `urn:uuid:00000000-0000-4000-8000-${String(n).padStart(12, '0')}`;

/** An official example, parsed afresh; name as in "Observation-f001". */
export const example = (name) => JSON.parse(readFileSync(path.join(exampleFolder, `${name}.json`), 'utf8'));

export const patient = () => ({
  resourceType: 'Patient', meta: meta(), identifier: identifier('p1'), active: true, gender: 'unknown',
  name: [{ family: 'Testperson-Invented', given: ['Quill'] }],
});

export const carePlan = (subject, more = {}) => ({
  resourceType: 'CarePlan', meta: meta(), text: generated('Invented plan'), identifier: identifier('plan-1'),
  status: 'draft', intent: 'proposal', title: 'Invented plan', subject: { reference: subject }, ...more,
});

/** A Task that fulfils the plan, with a restriction, valid as R4 and as R5. */
export const task = (n, subject, focus, more = {}) => ({
  resourceType: 'Task', meta: meta(), text: generated(`Invented step ${n}`), identifier: identifier(`task-${n}`),
  status: 'requested', intent: 'proposal', priority: 'routine',
  code: { coding: [{ system: taskCodes, code: 'fulfill' }], text: `Invented step ${n}` },
  focus: { reference: focus }, for: { reference: subject },
  restriction: { period: { start: '2026-03-01T10:00:00+01:00', end: '2026-03-01T10:15:00+01:00' } },
  authoredOn: '2026-03-01T09:00:00+01:00', lastModified: '2026-03-01T09:00:00+01:00', ...more,
});

export const binary = () => ({
  resourceType: 'Binary', meta: meta(), contentType: 'application/pdf', data: Buffer.from('%PDF-1.4 invented').toString('base64'),
});

export const documentReference = (subject, url) => ({
  resourceType: 'DocumentReference', meta: meta(), status: 'current', subject: { reference: subject },
  content: [{ attachment: { contentType: 'application/pdf', url } }],
});

export const subscription = (criteria, endpoint, more = {}) => ({
  resourceType: 'Subscription', status: 'requested', reason: 'test', criteria,
  channel: { type: 'rest-hook', endpoint, payload: 'application/fhir+json' }, ...more,
});

export const post = (resource, n, more = {}) => ({
  ...(n === undefined ? {} : { fullUrl: urn(n) }), resource, request: { method: 'POST', url: resource.resourceType, ...more },
});

export const put = (resource, ifMatch) => ({
  resource, request: { method: 'PUT', url: `${resource.resourceType}/${resource.id}`, ...(ifMatch ? { ifMatch } : {}) },
});

export const transaction = (...entry) => ({ resourceType: 'Bundle', type: 'transaction', entry });
