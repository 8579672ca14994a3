// Transactions, and the facts about them that the daemon's way of writing rests on. Source: FHIR R4 http.html, "Batch/Transaction"
// (all or nothing; urn:uuid resolved; ifMatch and ifNoneExist per entry) as this server behaves.
import assert from 'node:assert/strict';
import { describe, test } from 'node:test';
import { peerForTests } from './client.mjs';
import * as invented from './invented.mjs';

describe('transactions', () => {
  const { patient, carePlan, task, binary, documentReference, transaction, urn } = invented;
  const { at, get, post, put, total } = peerForTests();
  const send = (bundle) => post('', bundle);
  const weak = (version) => `W/"${version}"`;
  const entryOf = (answer, type) => answer.body.entry.find((entry) => entry.resource?.resourceType === type);
  const shellSearch = 'identifier=https://invented.example/id|plan-1';

  /** A CarePlan created once as a shell, by conditional create. */
  async function shell() {
    const bundle = transaction(invented.post(carePlan('Patient/1'), 0, { ifNoneExist: shellSearch }));
    return entryOf(await send(bundle), 'CarePlan').resource;
  }

  /** The first real write: the plan under ifMatch, then new Tasks and the document. */
  const fenced = ({ id, meta }) => transaction(
    invented.put({ ...carePlan('Patient/1', { status: 'active', activity: [{ reference: { reference: urn(1) } }, { reference: { reference: urn(2) } }] }), id }, weak(meta.versionId)),
    invented.post(task(1, 'Patient/1', `CarePlan/${id}`), 1),
    invented.post(task(2, 'Patient/1', `CarePlan/${id}`), 2),
    invented.post(binary(), 3),
    invented.post(documentReference('Patient/1', urn(3)), 4),
  );

  test('a shell under ifNoneExist is created once; the replay gets the same one', async () => {
    const first = await send(transaction(invented.post(carePlan('Patient/1'), 0, { ifNoneExist: shellSearch })));
    const replay = await send(transaction(invented.post(carePlan('Patient/1'), 0, { ifNoneExist: shellSearch })));
    const response = (answer) => answer.body.entry[0].response;
    assert.equal(response(first).status, '201');
    assert.equal(response(replay).status, '200');
    assert.equal(response(replay).location, response(first).location);
    assert.equal(await total('CarePlan'), 1);
  });

  test('urn:uuid is resolved in activity.reference, in references and in attachment.url', async () => {
    const { id } = await shell();
    const answer = await send(fenced((await get(`CarePlan/${id}`)).body));
    assert.equal(answer.status, 200);
    const tasks = answer.body.entry.slice(1, 3).map((entry) => `Task/${entry.resource.id}`);
    const plan = (await get(`CarePlan/${id}`)).body;
    assert.deepEqual(plan.activity.map((activity) => activity.reference.reference), tasks);
    const document = entryOf(answer, 'DocumentReference').resource;
    assert.equal(document.content[0].attachment.url, `Binary/${entryOf(answer, 'Binary').resource.id}`);
    assert.ok(!JSON.stringify(answer.body).includes('urn:uuid:'));
  });

  test('each entry of the answer says where, which version and when', async () => {
    const plan = await shell();
    for (const { resource, response } of (await send(fenced(plan))).body.entry) {
      const { versionId, lastUpdated } = resource.meta;
      assert.equal(response.location, `${resource.resourceType}/${resource.id}/_history/${versionId}`);
      assert.equal(response.etag, weak(versionId));
      assert.equal(response.lastModified, lastUpdated);
    }
  });

  test('the fence: a replay gets 412 and changes nothing', async () => {
    const plan = await shell();
    const bundle = fenced(plan);
    assert.equal((await send(bundle)).status, 200);
    const before = (await get('$peer/dump?history=1')).text;
    const replay = await send(bundle);
    assert.equal(replay.status, 412);
    assert.equal(replay.body.resourceType, 'OperationOutcome');
    assert.equal((await get('$peer/dump?history=1')).text, before);
  });

  test('the fence: of two writers one wins', async () => {
    const plan = await shell();
    const answers = await Promise.all([send(fenced(plan)), send(fenced(plan))]);
    assert.deepEqual(answers.map((answer) => answer.status).sort(), [200, 412]);
    assert.equal(await total('Task'), 2);
  });

  test('a Task that someone claimed fails the whole update', async () => {
    const answer = await send(fenced(await shell()));
    const [plan, claimed, other] = answer.body.entry.map((entry) => entry.resource);
    await put(`Task/${claimed.id}`, { ...claimed, status: 'accepted', owner: { display: 'Invented nurse' } });
    const before = (await get('$peer/dump?history=1')).text;
    const cancel = ({ meta, ...rest }) => invented.put({ ...rest, status: 'cancelled' }, weak(meta.versionId));
    const update = await send(transaction(
      invented.put({ ...plan, activity: undefined }, weak(plan.meta.versionId)), cancel(other), cancel(claimed),
      invented.post(task(3, 'Patient/1', `CarePlan/${plan.id}`), 5),
    ));
    assert.equal(update.status, 412);
    assert.equal((await get('$peer/dump?history=1')).text, before);
  });

  test('an entry that is not valid rolls everything back', async () => {
    const bad = { ...task(1, 'Patient/1', 'CarePlan/1'), intent: undefined };
    assert.equal((await send(transaction(invented.post(patient(), 1), invented.post(bad, 2)))).status, 400);
    assert.equal(await total('Patient'), 0);
    assert.equal(await total('Task'), 0);
  });

  test('rollback restores updated, deleted and revived resources', async () => {
    const kept = (await post('Patient', patient())).body;
    const erased = (await post('Patient', patient())).body;
    await fetch(at(`Patient/${erased.id}`), { method: 'DELETE' });
    const answer = await send(transaction(
      { request: { method: 'DELETE', url: `Patient/${kept.id}` } },
      invented.put({ ...patient(), id: erased.id }),
      invented.put({ ...carePlan('Patient/1'), id: 'none' }, 'W/"1"'),
    ));
    assert.equal(answer.status, 404);
    assert.equal((await get(`Patient/${kept.id}`)).body.meta.versionId, kept.meta.versionId);
    assert.equal((await get(`Patient/${erased.id}`)).status, 410);
    assert.equal((await get(`Patient/${erased.id}/_history`)).body.total, 1);
  });

  test('limits of this server: eight entries beside ifNoneExist, fifty updates', async () => {
    const posts = (n) => Array.from({ length: n }, (_, i) => invented.post(task(i, 'Patient/1', 'CarePlan/1'), i + 1));
    const conditional = invented.post(carePlan('Patient/1'), 0, { ifNoneExist: shellSearch });
    assert.equal((await send(transaction(conditional, ...posts(7)))).status, 200);
    assert.equal((await send(transaction(conditional, ...posts(8)))).status, 400);
    assert.equal((await send(transaction(...posts(60)))).status, 200);
    const puts = (n) => Array.from({ length: n }, (_, i) => invented.put({ ...patient(), id: `p${i}` }));
    assert.equal((await send(transaction(...puts(50)))).status, 200);
    assert.equal((await send(transaction(...puts(51)))).status, 400);
  });

  test('a batch is answered entry by entry', async () => {
    const bad = { ...task(1, 'Patient/1', 'CarePlan/1'), intent: undefined };
    const { status, body } = await send({ ...transaction(invented.post(patient(), 1), invented.post(bad, 2)), type: 'batch' });
    assert.equal(status, 200);
    assert.deepEqual(body.entry.map((entry) => entry.response.status), ['201', '400']);
    assert.equal(await total('Patient'), 1);
  });

  test('nobody sees a half-done transaction', async () => {
    const plan = await shell();
    const writing = send(fenced(plan));
    const totals = await Promise.all(Array.from({ length: 20 }, () => total('Task')));
    await writing;
    assert.ok(totals.every((n) => n === 0 || n === 2), String(totals));
  });
});
