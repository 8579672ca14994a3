// The peer as a FHIR R4 server. Source of what is expected: FHIR R4 http.html (create, read, update, versions, conditional
// interactions, content types) and search.html (paging, includes).
import assert from 'node:assert/strict';
import { describe, test } from 'node:test';
import { validate } from '../validate.mjs';
import { peerForTests } from './client.mjs';
import * as invented from './invented.mjs';

describe('the peer as a FHIR R4 server', () => {
  const { patient, carePlan, task, identifier } = invented;
  const { at, get, post, put, remove, total } = peerForTests();
  const create = async (resource) => (await post(resource.resourceType, resource)).body;

  test('metadata is a valid CapabilityStatement', async () => {
    const { status, body } = await get('metadata');
    assert.equal(status, 200);
    assert.equal(body.fhirVersion, '4.0.1');
    assert.deepEqual(validate(body), []);
  });

  test('create: the server gives id, version and time, whatever the client says', async () => {
    const answer = await post('Patient', { ...patient(), id: 'mine', meta: { versionId: '77', lastUpdated: '1999-01-01T00:00:00Z' } });
    assert.equal(answer.status, 201);
    const { id, meta } = answer.body;
    assert.notEqual(id, 'mine');
    assert.notEqual(meta.versionId, '77');
    assert.ok(meta.lastUpdated > '2020');
    assert.equal(answer.headers.get('etag'), `W/"${meta.versionId}"`);
    assert.equal(answer.headers.get('location'), at(`Patient/${id}/_history/${meta.versionId}`));
    assert.ok(answer.headers.get('last-modified'));
  });

  test('read, missing, deleted', async () => {
    const { id } = await create(patient());
    assert.equal((await get(`Patient/${id}`)).status, 200);
    assert.equal((await get(`fhir/Patient/${id}`)).status, 200, 'the base is served under /fhir too');
    assert.equal((await get('Patient/none')).body.resourceType, 'OperationOutcome');
    assert.equal((await get('Patient/none')).status, 404);
    assert.equal((await remove(`Patient/${id}`)).status, 204);
    assert.equal((await get(`Patient/${id}`)).status, 410);
    assert.equal((await remove(`Patient/${id}`)).status, 204);
    assert.equal((await put(`Patient/${id}`, { ...patient(), id })).status, 201, 'brought back');
  });

  test('update: If-Match current, stale and absent; a new id is created', async () => {
    const { id, meta } = await create(patient());
    const resource = { ...patient(), id };
    const match = { 'if-match': `W/"${meta.versionId}"` };
    assert.equal((await put(`Patient/${id}`, resource, match)).status, 200);
    assert.equal((await put(`Patient/${id}`, resource, match)).status, 412);
    assert.equal((await put(`Patient/${id}`, resource)).status, 200);
    assert.equal((await put('Patient/chosen', { ...patient(), id: 'chosen' })).status, 201);
    assert.equal((await put('Patient/chosen', { ...patient(), id: 'other' })).status, 400);
  });

  test('conditional create and update: none, one and several matches', async () => {
    const search = 'identifier=https://invented.example/id|p1';
    const conditional = () => post('Patient', patient(), { 'if-none-exist': search });
    assert.deepEqual([(await conditional()).status, (await conditional()).status, await total('Patient')], [201, 200, 1]);
    assert.equal((await put(`Patient?${search}`, patient())).status, 200);
    await create(patient());
    assert.equal((await conditional()).status, 412);
    assert.equal((await put(`Patient?${search}`, patient())).status, 412);
  });

  test('history is newest first and stays so; versions can be read', async () => {
    const { id, meta } = await create(patient());
    await put(`Patient/${id}`, { ...patient(), id, active: false });
    for (let again = 0; again < 2; again += 1) {
      const { body } = await get(`Patient/${id}/_history`);
      assert.deepEqual(body.entry.map((entry) => entry.resource.active), [false, true]);
      assert.deepEqual(validate(body), []);
    }
    assert.equal((await get(`Patient/${id}/_history/${meta.versionId}`)).body.active, true);
  });

  test('search: paging by links, includes, one level of chaining, references without a type', async () => {
    const { id } = await create(patient());
    for (let n = 1; n <= 5; n += 1) await create(task(n, `Patient/${id}`, 'CarePlan/x'));
    const first = (await get('Task?_count=2&_sort=identifier')).body;
    assert.equal(first.total, 5);
    assert.equal(first.entry.length, 2);
    assert.deepEqual(validate(first), []);
    const seen = new Set();
    for (let url = at('Task?_count=2'); url;) {
      const page = await (await fetch(url)).json();
      for (const entry of page.entry) seen.add(entry.fullUrl);
      url = page.link.find((link) => link.relation === 'next')?.url;
    }
    assert.equal(seen.size, 5);
    const modes = (await get(`Task?_include=Task:patient&identifier=${identifier('task-1')[0].value}`)).body.entry.map((entry) => entry.search.mode);
    assert.deepEqual(modes, ['match', 'include']);
    assert.equal((await get(`Patient?_id=${id}&_revinclude=Task:patient`)).body.entry.length, 6);
    assert.equal(await total('Task?patient.identifier=https://invented.example/id|p1'), 5);
    assert.equal(await total(`Task?patient=${id}`), 5);
    assert.equal(await total('Task?status=requested,accepted'), 5);
    assert.equal(await total('Task?status:not=requested'), 0);
    assert.equal(await total('Task?_lastUpdated=gt2999-01-01'), 0);
    assert.equal((await post('Task/_search', 'status=requested', { 'content-type': 'application/x-www-form-urlencoded' })).body.total, 5);
  });

  test('what cannot be answered is refused, not ignored', async () => {
    assert.equal((await get('Task?colour=red')).status, 400);
    assert.equal((await get('Observation?value-quantity=5')).status, 501);
    assert.equal((await get('Chore')).status, 404);
    assert.equal((await post('Chore', { resourceType: 'Chore' })).status, 404);
    assert.equal((await post('Patient', '{"resourceType":', { 'content-type': 'application/fhir+json' })).status, 400);
    assert.equal((await post('Patient', '<Patient/>', { 'content-type': 'application/fhir+xml' })).status, 415);
    assert.equal((await post('Patient', task(1, 'Patient/1', 'CarePlan/1'))).status, 400);
    const { intent, ...incomplete } = carePlan('Patient/1');
    assert.equal((await post('CarePlan', incomplete)).status, 400);
    assert.equal((await post('Patient', { ...patient(), colour: 'red' })).status, 400);
  });

  test('Binary comes and goes as bytes', async () => {
    const bytes = Buffer.from('%PDF-1.4\n\u0000\u0001 invented', 'latin1');
    const { id } = (await post('Binary', bytes, { 'content-type': 'application/pdf' })).body;
    const response = await fetch(at(`Binary/${id}`), { headers: { accept: 'application/pdf' } });
    assert.equal(response.headers.get('content-type'), 'application/pdf');
    assert.deepEqual(Buffer.from(await response.arrayBuffer()), bytes);
    assert.equal((await get(`Binary/${id}`)).body.contentType, 'application/pdf');
  });

  test('Prefer: return=minimal gives no resources', async () => {
    const answer = await post('Patient', patient(), { prefer: 'return=minimal' });
    assert.deepEqual([answer.status, answer.text], [201, '']);
    const bundle = invented.transaction(invented.post(patient(), 1));
    const [entry] = (await post('', bundle, { prefer: 'return=minimal' })).body.entry;
    assert.deepEqual([Object.keys(entry), /^Patient\//.test(entry.response.location)], [['response'], true]);
  });

  test('the log knows what came, byte for byte', async () => {
    await post('Patient', patient());
    await post('Patient', patient());
    await get('Patient/none');
    const { body } = await get('$peer/log?kind=request');
    assert.deepEqual(body.map(({ method, url, status }) => `${method} ${url} ${status}`), ['POST /Patient 201', 'POST /Patient 201', 'GET /Patient/none 404']);
    assert.equal(body[0].sha256, body[1].sha256);
    assert.equal((await get('$peer/log?since=2')).body.length, 1);
  });

  test('dump gives every current resource, or every version', async () => {
    const { id } = await create(patient());
    await put(`Patient/${id}`, { ...patient(), id, active: false });
    const lines = async (path) => (await get(path)).text.trim().split('\n').length;
    assert.deepEqual([await lines('$peer/dump'), await lines('$peer/dump?history=1')], [1, 2]);
  });
});
