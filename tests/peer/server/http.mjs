// Bytes in, bytes out: a node:http request becomes a plain object, an answer object becomes a response (or the lack of one).
const fhirJson = 'application/fhir+json; charset=utf-8';

/** {method, url, base, path, query, headers, raw}; the FHIR base is served at / and at /fhir alike. */
export async function readRequest(incoming, origin) {
  const chunks = [];
  for await (const chunk of incoming) chunks.push(chunk);
  const [fullPath, query = ''] = incoming.url.split(/\?(.*)/s);
  const prefix = /^\/fhir(?=\/|$)/.test(fullPath) ? '/fhir' : '';
  return {
    method: incoming.method, url: incoming.url, base: origin + prefix, query, headers: incoming.headers,
    path: fullPath.slice(prefix.length).replace(/^\/|\/$/g, ''), raw: Buffer.concat(chunks),
  };
}

const pause = (ms) => new Promise((resolve) => { setTimeout(resolve, ms); });

async function drip(response, bytes, { size, ms }) {
  for (let at = 0; at < bytes.length; at += size) {
    response.write(bytes.subarray(at, at + size));
    await pause(ms);
    if (response.destroyed) return;
  }
  response.end();
}

/**
 * Sends {status, headers, body | bytes}. `cut` "close" sends nothing and closes, "half" closes in the middle of the body;
 * `drip` {size, ms} sends the body in small pieces.
 */
export async function sendAnswer(response, method, answer) {
  if (answer.cut === 'close') { response.socket.destroy(); return; }
  const full = answer.bytes ?? Buffer.from(answer.body === undefined ? '' : JSON.stringify(answer.body));
  const type = answer.body === undefined ? {} : { 'content-type': fhirJson };
  const length = answer.status === 204 ? {} : { 'content-length': full.length };
  response.writeHead(answer.status, { ...type, ...length, ...answer.headers });
  const bytes = method === 'HEAD' ? Buffer.alloc(0) : full;
  if (answer.cut === 'half') response.write(bytes.subarray(0, Math.floor(bytes.length / 2)), () => response.socket.destroy());
  else if (answer.drip) await drip(response, bytes, answer.drip);
  else response.end(bytes);
}
