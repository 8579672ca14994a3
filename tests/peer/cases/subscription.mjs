// Rest-hook subscriptions. Source of the forms: FHIR R4 subscription.html, channel type rest-hook.
import assert from 'node:assert/strict';
import { describe, test } from 'node:test';
import { peerForTests, receiver } from './client.mjs';
import * as invented from './invented.mjs';

describe('subscriptions', () => {
  const { patient, carePlan, task, subscription, transaction } = invented;
  const { get, post, put, remove, play, settle } = peerForTests();
  const hook = receiver();

  const subscribe = async (criteria, more) => (await post('Subscription', subscription(criteria, hook.url(), more))).body;
  const create = async (resource) => (await post(resource.resourceType, resource)).body;
  const arrived = () => hook.got.map(({ method, path }) => `${method} ${path}`);

  test('a requested Subscription becomes active; impossible criteria become an error', async () => {
    const { id } = await subscribe('Task?status=requested');
    assert.equal((await get(`Subscription/${id}`)).body.status, 'active');
    const wrong = (await get(`Subscription/${(await subscribe('Task?colour=red')).id}`)).body;
    assert.deepEqual([wrong.status, /colour/.test(wrong.error)], ['error', true]);
  });

  test('with a payload: PUT below the endpoint, with the headers asked for', async () => {
    await subscribe('Patient?', { channel: { ...subscription('', hook.url()).channel, header: ['Authorization: Bearer invented'] } });
    const { id } = await create(patient());
    await settle();
    assert.deepEqual(arrived(), [`PUT /hook/Patient/${id}`]);
    assert.equal(hook.got[0].body.id, id);
    assert.equal(hook.got[0].headers.authorization, 'Bearer invented');
    assert.equal(hook.got[0].headers['content-type'], 'application/fhir+json');
  });

  test('without a payload: POST with an empty body', async () => {
    await subscribe('Patient?', { channel: { type: 'rest-hook', endpoint: hook.url() } });
    await create(patient());
    await settle();
    assert.deepEqual(arrived(), ['POST /hook']);
    assert.equal(hook.got[0].body, undefined);
  });

  test('tag post-hook: POST with the resource', async () => {
    await subscribe('Patient?', { meta: { tag: [{ code: 'post-hook' }] } });
    const { id } = await create(patient());
    await settle();
    assert.deepEqual(arrived(), ['POST /hook']);
    assert.equal(hook.got[0].body.id, id);
  });

  test('only what matches, in commit order, also updates', async () => {
    await subscribe('Task?status=requested');
    const first = await create(task(1, 'Patient/1', 'CarePlan/1'));
    await create(carePlan('Patient/1'));
    await put(`Task/${first.id}`, { ...first, status: 'completed' });
    const second = await create(task(2, 'Patient/1', 'CarePlan/1'));
    await put(`Task/${first.id}`, { ...first, status: 'requested' });
    await settle();
    assert.deepEqual(arrived(), [first, second, first].map(({ id }) => `PUT /hook/Task/${id}`));
  });

  test('a transaction tells after the commit; a failed one tells nothing', async () => {
    await subscribe('Task?');
    const bad = { ...task(2, 'Patient/1', 'CarePlan/1'), intent: undefined };
    assert.equal((await post('', transaction(invented.post(task(1, 'Patient/1', 'CarePlan/1'), 1), invented.post(bad, 2)))).status, 400);
    await settle();
    assert.deepEqual(arrived(), []);
    assert.equal((await post('', transaction(invented.post(task(1, 'Patient/1', 'CarePlan/1'), 1), invented.post(task(2, 'Patient/1', 'CarePlan/1'), 2)))).status, 200);
    await settle();
    assert.equal(arrived().length, 2);
  });

  test('an endpoint that fails is tried again, four times in all', async () => {
    const { id } = await subscribe('Patient?');
    hook.statuses.push(503, 503, 200);
    await create(patient());
    await settle();
    assert.equal(arrived().length, 3);
    hook.clear();
    hook.statuses.push(500, 500, 500, 500, 500);
    await create(patient());
    await settle();
    assert.equal(arrived().length, 4);
    const log = (await get('$peer/log?kind=notification')).body;
    assert.deepEqual(log.map((entry) => entry.status), [503, 503, 200, 500, 500, 500, 500]);
    assert.ok(log.every((entry) => entry.subscription === id && entry.resource.startsWith('Patient/')));
  });

  test('lossy-push loses every n-th', async () => {
    await play('lossy-push', { every: 2 });
    await subscribe('Task?');
    const made = [];
    for (let n = 1; n <= 4; n += 1) made.push(await create(task(n, 'Patient/1', 'CarePlan/1')));
    await settle();
    assert.deepEqual(arrived(), [made[0], made[2]].map(({ id }) => `PUT /hook/Task/${id}`));
  });

  test('duplicate-push sends copies', async () => {
    await play('duplicate-push', { copies: 3, every: 2 });
    await subscribe('Task?');
    for (let n = 1; n <= 2; n += 1) await create(task(n, 'Patient/1', 'CarePlan/1'));
    await settle();
    assert.equal(arrived().length, 4);
    assert.equal(new Set(arrived()).size, 2);
  });

  test('reordered-push lets later ones overtake', async () => {
    await play('reordered-push', { every: 2, skip: 1, ms: 100 }); // the third of four
    await subscribe('Task?');
    const made = [];
    for (let n = 1; n <= 4; n += 1) made.push(await create(task(n, 'Patient/1', 'CarePlan/1')));
    await settle();
    assert.deepEqual(arrived(), [0, 1, 3, 2].map((i) => `PUT /hook/Task/${made[i].id}`));
  });

  test('post-push, delete-push, never-activates, push-gives-up', async () => {
    await play('post-push');
    await play('push-gives-up');
    const watching = await subscribe('Patient?');
    const { id } = await create(patient());
    await remove(`Patient/${id}`);
    await settle();
    assert.deepEqual(arrived(), ['POST /hook'], 'deletions are not told by default');
    await play('delete-push');
    const other = await create(patient());
    await remove(`Patient/${other.id}`);
    await settle();
    assert.deepEqual(arrived(), ['POST /hook', 'POST /hook', `DELETE /hook/Patient/${other.id}`]);
    hook.statuses.push(500, 500, 500, 500);
    await create(patient());
    await settle();
    assert.equal((await get(`Subscription/${watching.id}`)).body.status, 'error');
    await play('never-activates');
    assert.equal((await get(`Subscription/${(await subscribe('Patient?')).id}`)).body.status, 'requested');
  });
});

// After the backport guide: http://hl7.org/fhir/uv/subscriptions-backport.
describe('subscriptions with a topic', () => {
  const { patient, subscription } = invented;
  const { get, post, play, settle } = peerForTests();
  const hook = receiver();
  const guide = 'http://hl7.org/fhir/uv/subscriptions-backport/StructureDefinition';
  const topical = (content) => {
    const plain = subscription('https://record.example/topic/patients', hook.url());
    const payload = { extension: [{ url: `${guide}/backport-payload-content`, valueCode: content }] };
    return { ...plain, _criteria: { extension: [{ url: `${guide}/backport-filter-criteria`, valueString: 'Patient?' }] }, channel: { ...plain.channel, payload: 'application/fhir+json', _payload: payload } };
  };
  const said = (body, name) => body.entry[0].resource.parameter.find((one) => one.name === name);
  const kinds = () => hook.got.map(({ body }) => said(body, 'type').valueCode);

  test('a handshake, then numbered events with their focus', async () => {
    const { id } = (await post('Subscription', topical('id-only'))).body;
    await settle();
    assert.deepEqual(kinds(), ['handshake']);
    assert.equal((await get(`Subscription/${id}`)).body.status, 'active');
    const made = (await post('Patient', patient())).body;
    await settle();
    const event = said(hook.got[1].body, 'notification-event').part;
    assert.equal(event[0].valueString, '1');
    assert.ok(event[2].valueReference.reference.endsWith(`/Patient/${made.id}`));
    assert.equal(hook.got[1].body.entry.length, 1);
  });

  test('a handshake that is refused is an error', async () => {
    hook.statuses.push(500);
    const { id } = (await post('Subscription', topical('id-only'))).body;
    await settle();
    assert.equal((await get(`Subscription/${id}`)).body.status, 'error');
  });

  test('what was lost counts, and can be asked for', async () => {
    const { id } = (await post('Subscription', topical('full-resource'))).body;
    await settle();
    await play('lossy-push', { every: 2 });
    for (let n = 0; n < 4; n += 1) await post('Patient', patient());
    await settle();
    assert.equal(kinds().length, 3);
    const status = (await get(`Subscription/$status?id=${id}`)).body;
    assert.equal(said(status, 'events-since-subscription-start').valueString, '4');
    const missing = (await get(`Subscription/${id}/$events?eventsSinceNumber=2&eventsUntilNumber=2`)).body;
    assert.equal(said(missing, 'type').valueCode, 'query-event');
    assert.equal(missing.entry.length, 2);
    assert.equal((await get('Subscription/nobody/$status')).status, 404);
  });
});
