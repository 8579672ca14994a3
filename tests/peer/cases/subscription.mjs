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
