// Puts the parts together: HTTP, log, personalities, FHIR, subscriptions, the tests' door.
import http from 'node:http';
import { indexDefinitions } from '../definitions.mjs';
import { Personalities } from '../personalities/index.mjs';
import { control } from './control.mjs';
import { FhirService, parseBody } from './fhir.mjs';
import { readRequest, sendAnswer } from './http.mjs';
import { RequestLog } from './log.mjs';
import { outcome, takeStatus } from './outcomes.mjs';
import { PeerRepository } from './repository.mjs';
import { Notifier } from './subscriptions.mjs';

export class Peer {
  log = new RequestLog();
  personalities = new Personalities();
  repository = new PeerRepository(this.personalities);
  notifier = new Notifier(this.repository, this.personalities, this.log);
  service = new FhirService(this.repository, this.personalities, this.notifier);

  /** initial: [{name, options}], the personalities of the start, to which a reset returns. */
  constructor(initial) {
    this.initial = initial;
  }

  async reset() {
    this.personalities.remove();
    for (const { name, options } of this.initial) await this.personalities.add(name, options);
    this.notifier.reset();
    await this.repository.serial(async () => this.repository.reset());
    this.log.reset();
  }

  /** The answer to a FHIR request, as the personalities shape it. */
  async answer(request) {
    const parsed = parseBody(request);
    request.body = parsed.body;
    const refused = await this.personalities.refuse(request, this);
    if (refused) return refused;
    this.personalities.alter(request);
    const answer = parsed.answer ?? this.notifier.topics.answer(request, this.repository) ?? await this.service.handle(request);
    return this.personalities.answer(request, answer);
  }

  async serve(incoming, response) {
    const request = await readRequest(incoming, this.url);
    const isControl = /^\$peer(\/|$)/.test(request.path);
    if (isControl) return sendAnswer(response, request.method, await control(this, request));
    const { finish } = this.log.request(request);
    const answer = await this.answer(request).catch(exception);
    finish(answer);
    return sendAnswer(response, request.method, answer);
  }

  /** Listens on 127.0.0.1; port 0 picks a free one. */
  async listen(port) {
    this.server = http.createServer((incoming, response) => {
      this.serve(incoming, response).catch(() => response.destroy());
    });
    await new Promise((resolve, reject) => { this.server.once('error', reject).listen(port, '127.0.0.1', resolve); });
    this.url = `http://127.0.0.1:${this.server.address().port}`;
    this.notifier.base = this.url;
  }

  async close() {
    this.notifier.reset();
    this.server.closeAllConnections();
    await new Promise((resolve) => { this.server.close(resolve); });
  }
}

function exception(error) {
  const body = outcome(500, 'exception', String(error?.stack ?? error));
  return { status: takeStatus(body), headers: {}, body };
}

/** Starts a peer with the given personalities; `versions`: what it keeps from before. */
export async function startPeer({ port = 0, personalities = [], versions = [] } = {}) {
  indexDefinitions();
  const peer = new Peer(personalities);
  await peer.reset();
  peer.repository.restore(versions);
  await peer.listen(port);
  return peer;
}
