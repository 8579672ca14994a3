// A third-party FHIR R4 server for the tests, in memory, on 127.0.0.1. See README.md.
import { readFileSync } from 'node:fs';
import { parseArgs } from 'node:util';
import { available } from './personalities/index.mjs';
import { startPeer } from './server/peer.mjs';

const usage = `usage: node server.mjs [--port N] [--strict] [--personality NAME[={"option":value,...}]]... [--from FILE] [--until-stdin-closes]
  Prints "LISTEN http://127.0.0.1:PORT" when ready; port 0 (default) picks a free one. --strict is --personality strict.
  --from FILE: begins with the versions of a "GET /$peer/dump?history=1", as a server that was started anew.
  personalities: ${available.join(', ')}`;

/** {name, options} of NAME or NAME={json}. */
function personality(text) {
  const [name, options = '{}'] = text.split(/=(.*)/s);
  return { name, options: JSON.parse(options) };
}

function settings() {
  const { values } = parseArgs({ options: {
    port: { type: 'string', default: '0' },
    strict: { type: 'boolean' },
    personality: { type: 'string', multiple: true, default: [] },
    from: { type: 'string' },
    'until-stdin-closes': { type: 'boolean' },
  } });
  const names = [...(values.strict ? ['strict'] : []), ...values.personality];
  const lines = values.from ? readFileSync(values.from, 'utf8').split('\n').filter(Boolean) : [];
  return {
    port: Number(values.port), personalities: names.map(personality), versions: lines.map((line) => JSON.parse(line)),
    followsStdin: values['until-stdin-closes'],
  };
}

try {
  const { followsStdin, ...options } = settings();
  const peer = await startPeer(options);
  for (const signal of ['SIGTERM', 'SIGINT']) process.on(signal, () => process.exit(0));
  if (followsStdin) process.stdin.resume().on('end', () => process.exit(0));
  console.log(`LISTEN ${peer.url}`);
} catch (error) {
  console.error(`${error.message}\n${usage}`);
  process.exit(2);
}
