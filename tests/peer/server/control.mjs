// The tests' own door, beside the FHIR base. JSON in, JSON out.
//   GET    /$peer                     personalities in force, available ones, number of resources by type
//   POST   /$peer/personality         {"name", "options"}: adds it (again: replaces it, counters start afresh)
//   DELETE /$peer/personality[/name]  takes one or all off
//   GET    /$peer/log                 what was received and sent; ?kind=request|notification, ?since=N
//   GET    /$peer/dump                every current resource as NDJSON; ?history=1: every version
//   POST   /$peer/settle              answers when no notification is left to be sent
//   POST   /$peer/reset               as just started: no resources, no log, the personalities of the start
import { available } from '../personalities/index.mjs';

const json = (status, body) => ({ status, headers: { 'content-type': 'application/json' }, body });
const counts = (repository) => Object.fromEntries([...repository.resources].map(([type, byId]) => [type, byId.size]));
const overview = (peer) => json(200, { personalities: peer.personalities.list(), available, resources: counts(peer.repository) });

async function personality(peer, { method, path, raw }) {
  const name = path.split('/')[2];
  if (method === 'DELETE') {
    peer.personalities.remove(name);
    return overview(peer);
  }
  try {
    const wanted = JSON.parse(raw.toString() || '{}');
    await peer.personalities.add(wanted.name, wanted.options);
    return overview(peer);
  } catch (error) {
    return json(400, { error: error.message });
  }
}

function dump({ repository }, query) {
  const versions = [...repository.history.values()].flatMap((byId) => [...byId.values()].flat());
  const current = [...repository.resources.values()].flatMap((byId) => [...byId.values()]);
  const lines = (query.get('history') ? versions : current).map((resource) => `${JSON.stringify(resource)}\n`);
  return { status: 200, headers: { 'content-type': 'application/fhir+ndjson' }, bytes: Buffer.from(lines.join('')) };
}

/** Answers a request whose path starts with $peer. */
export async function control(peer, request) {
  const query = new URLSearchParams(request.query);
  const [, what] = request.path.split('/');
  const route = `${request.method} ${what ?? ''}`;
  switch (route) {
    case 'GET ': return overview(peer);
    case 'POST personality':
    case 'DELETE personality': return personality(peer, request);
    case 'GET log': return json(200, peer.log.list({ kind: query.get('kind'), since: Number(query.get('since') ?? 0) }));
    case 'GET dump': return dump(peer, query);
    case 'POST settle':
      await peer.notifier.settled();
      return json(200, {});
    case 'POST reset':
      await peer.reset();
      return overview(peer);
    default: return json(404, { error: `no ${request.method} /${request.path}` });
  }
}
