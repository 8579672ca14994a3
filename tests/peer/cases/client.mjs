// A peer of its own for a suite, a client for it, and a receiver of notifications.
import http from 'node:http';
import { after, before, beforeEach } from 'node:test';
import { startPeer } from '../server/peer.mjs';

/** {status, headers, body, text}; body is undefined where the answer is not JSON. */
export async function call(url, { method = 'GET', body, headers = {} } = {}) {
  const isBytes = typeof body === 'string' || Buffer.isBuffer(body);
  const response = await fetch(url, {
    method, headers: { ...(body && !isBytes ? { 'content-type': 'application/fhir+json' } : {}), ...headers },
    body: body === undefined || isBytes ? body : JSON.stringify(body),
  });
  const text = await response.text();
  const isJson = /json/.test(response.headers.get('content-type') ?? '') && !/ndjson/.test(response.headers.get('content-type'));
  return { status: response.status, headers: response.headers, text, body: isJson && text ? JSON.parse(text) : undefined };
}

/** A peer for the tests of one suite, emptied before each of them. The methods return what call() returns. */
export function peerForTests(personalities = []) {
  let peer;
  before(async () => { peer = await startPeer({ personalities }); });
  after(() => peer.close());
  beforeEach(() => peer.reset());
  const at = (path) => `${peer.url}/${path}`;
  return {
    at,
    get: (path, headers) => call(at(path), { headers }),
    post: (path, body, headers) => call(at(path), { method: 'POST', body, headers }),
    put: (path, body, headers) => call(at(path), { method: 'PUT', body, headers }),
    remove: (path) => call(at(path), { method: 'DELETE' }),
    total: async (query) => (await call(at(query))).body.total,
    play: (name, options) => call(at('$peer/personality'), { method: 'POST', body: { name, options } }),
    settle: () => call(at('$peer/settle'), { method: 'POST' }),
  };
}

/** An HTTP server that keeps what it gets, for one suite, emptied before each test; `statuses` are its next answers, 200 when used up. */
export function receiver() {
  const got = [];
  const statuses = [];
  const server = http.createServer(async (request, response) => {
    const chunks = [];
    for await (const chunk of request) chunks.push(chunk);
    const text = Buffer.concat(chunks).toString();
    got.push({ method: request.method, path: request.url, headers: request.headers, body: text ? JSON.parse(text) : undefined });
    response.writeHead(statuses.shift() ?? 200).end();
  });
  const clear = () => { got.length = 0; statuses.length = 0; };
  before(() => new Promise((resolve) => { server.listen(0, '127.0.0.1', resolve); }));
  after(() => { server.closeAllConnections(); server.close(); });
  beforeEach(clear);
  return { got, statuses, clear, url: () => `http://127.0.0.1:${server.address().port}/hook` };
}
