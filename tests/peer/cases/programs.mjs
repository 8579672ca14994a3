// The programs as they are started from outside: server.mjs and examples.mjs.
import assert from 'node:assert/strict';
import { spawn, spawnSync } from 'node:child_process';
import { once } from 'node:events';
import { describe, test } from 'node:test';
import { fileURLToPath } from 'node:url';
import { exampleNames, lineOf } from '../examples.mjs';
import { call } from './client.mjs';

const program = (name) => fileURLToPath(new URL(`../${name}`, import.meta.url));

describe('programs', () => {
  test('server.mjs says where it listens, plays what it was told and ends with its standard input', async () => {
    const args = ['--port', '0', '--personality', 'slow={"ms":1}', '--personality', 'no-client-ids', '--until-stdin-closes'];
    const server = spawn(process.execPath, [program('server.mjs'), ...args], { stdio: ['pipe', 'pipe', 'inherit'] });
    const [line] = await once(server.stdout.setEncoding('utf8'), 'data');
    const url = /^LISTEN (http:\/\/127\.0\.0\.1:\d+)\n$/.exec(line)?.[1];
    assert.ok(url, line);
    assert.deepEqual((await call(`${url}/$peer`)).body.personalities.map(({ name }) => name), ['slow', 'no-client-ids']);
    assert.equal((await call(`${url}/fhir/metadata`)).body.rest[0].resource[0].updateCreate, false);
    server.stdin.end();
    assert.deepEqual(await once(server, 'exit'), [0, null]);
  });

  test('server.mjs refuses a personality that it does not know', () => {
    const { status, stderr } = spawnSync(process.execPath, [program('server.mjs'), '--personality', 'cheerful'], { encoding: 'utf8' });
    assert.deepEqual([status, /no personality "cheerful"; there are: /.test(stderr)], [2, true]);
  });

  test('examples.mjs finds all 5,305 official examples and keeps every digit', () => {
    assert.equal(exampleNames().length, 5305);
    assert.equal(exampleNames({ types: ['Procedure'] }).length, 16);
    assert.ok(exampleNames({ clinical: true }).every((name) => !name.startsWith('ValueSet-')));
    const line = lineOf('Observation-decimal.json');
    assert.equal(line.trim().split('\n').length, 1);
    assert.match(line, /1\.0{18}E-245/);
    assert.equal(JSON.parse(line).id, 'decimal');
  });
});
