// Personalities of the REST interface, one test each; those of the notifications are in subscription.test.mjs.
import assert from 'node:assert/strict';
import { describe, test } from 'node:test';
import { pause } from '../personalities/common.mjs';
import { available } from '../personalities/index.mjs';
import { call, peerForTests } from './client.mjs';
import * as invented from './invented.mjs';

describe('personalities', () => {
  const { patient, carePlan, task, binary, documentReference, transaction, urn } = invented;
  const { at, get, post, put, remove, total, play } = peerForTests();
  const send = (bundle) => post('', bundle);
  const twoPatients = () => transaction(invented.post(patient(), 1), invented.post(patient(), 2));
  const statuses = async (n, request) => {
    const list = [];
    for (let i = 0; i < n; i += 1) list.push((await request()).status);
    return list;
  };
  const isBroken = (promise) => promise.then(() => false, () => true);

  test('personalities can be listed, added, replaced, taken off, reset; unknown ones are refused', async () => {
    assert.equal((await play('cheerful')).status, 400);
    await play('throttling', { requests: 1 });
    await play('slow', { ms: 1 });
    const { body } = await play('throttling', { requests: 9 });
    assert.deepEqual(body.personalities, [{ name: 'slow', options: { ms: 1 } }, { name: 'throttling', options: { requests: 9 } }]);
    assert.deepEqual(body.available, available);
    assert.equal((await call(at('$peer/personality/slow'), { method: 'DELETE' })).body.personalities.length, 1);
    await post('Patient', patient());
    const reset = (await call(at('$peer/reset'), { method: 'POST' })).body;
    assert.deepEqual([reset.personalities, reset.resources], [[], {}]);
  });

  test('methods and path narrow a personality down', async () => {
    await play('unavailable', { every: 1, length: 1, methods: ['POST'], path: '^Task' });
    assert.equal((await get('Task')).status, 200);
    assert.equal((await post('Patient', patient())).status, 201);
    assert.equal((await post('Task', task(1, 'Patient/1', 'CarePlan/1'))).status, 503);
  });

  test('strict', async () => {
    const unknownStatus = { ...task(1, 'Patient/1', 'CarePlan/1'), status: 'done' };
    assert.equal((await post('Task', unknownStatus)).status, 201, 'without it the binding is not checked');
    await play('strict');
    const { status, body } = await post('Task', unknownStatus);
    assert.equal(status, 400);
    assert.deepEqual(body.issue.map((issue) => issue.expression[0]), ['Task.status', 'Task.status']);
    assert.equal((await post('Task', task(1, 'Patient/1', 'CarePlan/1'))).status, 201);
    assert.equal((await send(transaction(invented.post(patient(), 1), invented.post(unknownStatus, 2)))).status, 400);
    assert.equal(await total('Patient'), 0);
  });

  test('throttling answers 429 with Retry-After in both forms', async () => {
    await play('throttling', { requests: 2, perSeconds: 60, retryAfter: 7 });
    assert.deepEqual(await statuses(2, () => get('Task')), [200, 200]);
    const [seconds, date] = [await get('Task'), await get('Task')];
    assert.deepEqual([seconds.status, seconds.headers.get('retry-after')], [429, '7']);
    const wait = Date.parse(date.headers.get('retry-after')) - Date.now();
    assert.ok(wait > 5_500 && wait < 8_500, `waits ${wait} ms`);
    await play('throttling', { requests: 1, perSeconds: 0.05 });
    assert.equal((await get('Task')).status, 200);
    await pause(60);
    assert.equal((await get('Task')).status, 200, 'a new window');
  });

  test('slow: before the work, after it, and drop by drop', async () => {
    const timed = async (request) => {
      const start = performance.now();
      await request();
      return performance.now() - start;
    };
    await play('slow', { ms: 120, every: 2 });
    await get('Task');
    assert.ok(await timed(() => get('Task')) >= 115);
    await play('slow', { ms: 1500, when: 'after', methods: ['POST'] });
    let isAnswered = false;
    const writing = timed(() => post('Patient', patient())).finally(() => { isAnswered = true; });
    while (await total('Patient') === 0) await pause(5);
    assert.ok(!isAnswered, 'the work is done while the writer still waits');
    assert.ok(await writing >= 1490);
    await play('slow', { ms: 5, when: 'drip', size: 20 });
    assert.ok(await timed(() => get('Patient?_count=1')) >= 50);
  });

  test('lost-response commits and closes', async () => {
    await play('lost-response', { every: 2 });
    assert.equal((await send(twoPatients())).status, 200);
    assert.ok(await isBroken(send(twoPatients())));
    assert.equal(await total('Patient'), 4);
    await play('lost-response', { every: 1, times: 1, what: 'write', cut: 'half' });
    assert.ok(await isBroken(post('Patient', patient())));
    assert.equal(await total('Patient'), 5);
    assert.equal((await post('Patient', patient())).status, 201);
    const log = (await get('$peer/log')).body.filter((entry) => entry.cut).map(({ status, cut, by }) => [status, cut, by]);
    assert.deepEqual(log, [[200, 'close', 'lost-response'], [201, 'half', 'lost-response']]);
  });

  test('ignores-if-match inside transactions: the lost update', async () => {
    const plan = (await post('CarePlan', carePlan('Patient/1'))).body;
    const stale = () => transaction(invented.put({ ...carePlan('Patient/1'), id: plan.id }, 'W/"stale"'));
    assert.equal((await send(stale())).status, 412);
    await play('ignores-if-match');
    assert.equal((await send(stale())).status, 200);
    assert.equal((await put(`CarePlan/${plan.id}`, { ...carePlan('Patient/1'), id: plan.id }, { 'if-match': 'W/"stale"' })).status, 412);
  });

  test('no-transactions', async () => {
    const codes = async () => ((await get('metadata')).body.rest[0].interaction ?? []).map(({ code }) => code);
    await play('no-transactions');
    assert.equal((await send(twoPatients())).status, 501);
    assert.equal((await send({ ...twoPatients(), type: 'batch' })).status, 200);
    assert.deepEqual(await codes(), ['batch']);
    await play('no-transactions', { status: 400, batch: true, claims: true });
    assert.equal((await send({ ...twoPatients(), type: 'batch' })).status, 400);
    assert.deepEqual(await codes(), ['transaction', 'batch']);
  });

  test('refuses-create of Task and CarePlan, alone, by PUT and in a transaction', async () => {
    const existing = (await post('Task', task(1, 'Patient/1', 'CarePlan/1'))).body;
    await play('refuses-create', { status: 405 });
    assert.equal((await post('Task', task(2, 'Patient/1', 'CarePlan/1'))).status, 405);
    assert.equal((await put('CarePlan/own', { ...carePlan('Patient/1'), id: 'own' })).status, 405);
    assert.equal((await put(`Task/${existing.id}`, existing)).status, 200);
    assert.equal((await send(transaction(invented.post(patient(), 1), invented.post(carePlan('Patient/1'), 2)))).status, 405);
    assert.equal(await total('Patient'), 0);
    const batch = await send({ ...transaction(invented.post(patient(), 1), invented.post(carePlan('Patient/1'), 2)), type: 'batch' });
    assert.deepEqual(batch.body.entry.map((entry) => entry.response.status), ['201', '405']);
    const { resource } = (await get('metadata')).body.rest[0];
    const creates = (type) => resource.find((entry) => entry.type === type).interaction.some(({ code }) => code === 'create');
    assert.deepEqual([creates('Task'), creates('Patient')], [false, true]);
    await play('refuses-create', { updates: true });
    assert.equal((await put(`Task/${existing.id}`, existing)).status, 403);
  });

  test('unavailable in bursts', async () => {
    await play('unavailable', { every: 4, length: 2, retryAfter: 1 });
    assert.deepEqual(await statuses(8, () => get('Task')), [200, 200, 503, 503, 200, 200, 503, 503]);
  });

  test('html-page: 200, and nothing was done', async () => {
    await play('html-page', { every: 2 });
    assert.equal((await post('Patient', patient())).status, 201);
    const page = await post('Patient', patient());
    assert.deepEqual([page.status, page.headers.get('content-type')], [200, 'text/html; charset=utf-8']);
    assert.equal(await total('Patient'), 1);
  });

  test('stale-search repeats itself unless told not to', async () => {
    await play('stale-search', { seconds: 60 });
    assert.equal(await total('Patient'), 0);
    const { id } = (await post('Patient', patient())).body;
    assert.equal(await total('Patient'), 0);
    assert.equal((await get(`Patient/${id}`)).status, 200, 'reads are fresh');
    assert.equal((await get('Patient', { 'cache-control': 'no-cache' })).body.total, 1);
    await play('stale-search', { seconds: 0.05 });
    await get('Patient');
    await post('Patient', patient());
    await pause(60);
    assert.equal(await total('Patient'), 2, 'the time is over');
  });

  test('no-client-ids', async () => {
    await play('no-client-ids');
    assert.equal((await put('Patient/own', { ...patient(), id: 'own' })).status, 405);
    assert.equal((await send(transaction(invented.put({ ...patient(), id: 'own' })))).status, 405);
    assert.equal((await send(twoPatients())).status, 200);
    assert.equal((await put('Patient?identifier=none', patient())).status, 201);
  });

  test('entry-limit', async () => {
    await play('entry-limit', { entries: 1 });
    assert.equal((await send(twoPatients())).status, 413);
    assert.equal((await send(transaction(invented.post(patient(), 1)))).status, 200);
    await play('entry-limit', { entries: 9, bytes: 500, status: 400 });
    assert.equal((await send(twoPatients())).status, 400);
  });

  test('referential-integrity', async () => {
    await play('referential-integrity');
    const { id } = (await post('Patient', patient())).body;
    assert.equal((await post('CarePlan', carePlan('Patient/none'))).status, 400);
    assert.equal((await post('CarePlan', carePlan(`Patient/${id}`))).status, 201);
    const bundle = transaction(
      invented.put({ ...carePlan(`Patient/${id}`, { activity: [{ reference: { reference: urn(1) } }] }), id: 'plan' }),
      invented.post(task(1, `Patient/${id}`, 'CarePlan/plan'), 1),
    );
    assert.equal((await send(bundle)).status, 200);
    assert.equal((await send(transaction(invented.post(task(1, `Patient/${id}`, 'CarePlan/none'), 1)))).status, 400);
  });

  test('refuses-urn-in-url', async () => {
    await play('refuses-urn-in-url');
    assert.equal((await send(transaction(invented.post(binary(), 1), invented.post(documentReference('Patient/1', urn(1)), 2)))).status, 400);
    assert.equal((await send(transaction(invented.post(documentReference('Patient/1', 'Binary/1'), 2)))).status, 200);
  });

  test('clock-drift', async () => {
    await play('clock-drift', { seconds: [0, 3600] });
    const stamps = [];
    for (let n = 0; n < 2; n += 1) stamps.push(Date.parse((await post('Patient', patient())).body.meta.lastUpdated));
    assert.ok(stamps[1] - stamps[0] > 3_500_000);
  });

  test('broken-paging', async () => {
    for (let n = 0; n < 3; n += 1) await post('Patient', patient());
    const next = async (kind, query) => {
      await play('broken-paging', { kind });
      return (await get(query)).body.link.find((link) => link.relation === 'next')?.url;
    };
    assert.equal(await next('self', 'Patient?_count=9'), at('Patient?_count=9'));
    assert.equal(await next('host', 'Patient?_count=2'), 'http://127.0.0.1:1/Patient?_count=2&_offset=2');
    assert.equal(await next('relative', 'Patient?_count=2'), '/Patient?_count=2&_offset=2');
    assert.equal(await next('repeat', 'Patient?_count=2'), at('Patient?_count=2&_offset=1'));
    const beyond = await next('beyond', 'Patient?_count=2&_offset=2');
    assert.equal((await (await fetch(beyond)).json()).entry, undefined);
  });

  test('demands-token', async () => {
    await play('demands-token', { token: 'abc' });
    const { status, headers } = await get('Task');
    assert.deepEqual([status, headers.get('www-authenticate')], [401, 'Bearer realm="peer"']);
    assert.equal((await get('Task', { authorization: 'Bearer old' })).status, 401);
    assert.equal((await get('Task', { authorization: 'Bearer abc' })).status, 200);
    assert.equal((await get('metadata')).status, 200);
  });

  test('large-hospital takes a document as it wants it, and little else', async () => {
    await put('Patient/a', { ...patient(), id: 'a' });
    await play('large-hospital');
    const about = { status: 'current', subject: { reference: 'Patient/a' }, content: [{ attachment: { contentType: 'text/plain', data: 'QQ==' } }] };
    const wanted = {
      ...about, resourceType: 'DocumentReference', type: { coding: [{ system: 'https://hospital.example/document-type', code: 'nursing-plan' }] },
      author: [{ reference: 'Organization/h' }], context: { encounter: [{ reference: 'Encounter/e' }] },
    };
    for (const missing of ['type', 'author', 'context']) {
      const { [missing]: _, ...less } = wanted;
      const refused = await post('DocumentReference', less);
      assert.equal(refused.status, 400, missing);
      assert.match(JSON.stringify(refused.body), new RegExp(`DocumentReference.${missing}`));
    }
    const made = await post('DocumentReference', wanted);
    assert.equal(made.status, 201);
    assert.equal((await post('DocumentReference', wanted, { 'If-None-Exist': 'identifier=x' })).status, 412);
    assert.equal((await put(`DocumentReference/${made.body.id}`, { ...made.body, status: 'superseded' })).status, 200);
    assert.equal((await post('Task', task(1, 'Patient/a', 'CarePlan/1'))).status, 403);
    assert.equal((await post('CarePlan', carePlan(1, 'Patient/a'))).status, 403);
    assert.equal((await send(twoPatients())).status, 501);
    const list = await get('Task?patient=a');
    assert.deepEqual([list.status, list.body ?? ''], [406, '']);
    assert.equal((await get('DocumentReference?patient=a')).status, 400);
    assert.equal((await get('DocumentReference?patient=a&category=x')).status, 200);
    await play('large-hospital', { documentUpdates: false });
    assert.equal((await put(`DocumentReference/${made.body.id}`, { ...made.body, status: 'current' })).status, 405);
    assert.equal((await post('DocumentReference', wanted)).status, 201);
  });
});
