// R4 rest-hook subscriptions. After each commit every active Subscription whose criteria match is told, in commit order:
//   with a payload type   PUT  [endpoint]/[type]/[id] with the resource (tag "post-hook": POST [endpoint] with the resource)
//   without               POST [endpoint] with an empty body
//   with a topic          POST [endpoint] with a numbered notification Bundle, after a handshake (topics.mjs)
// Source of the two forms: FHIR R4 subscription.html, channel type rest-hook. At least once: four tries. Only loopback is called.
import { matchesSearchRequest, parseSearchRequest } from '@medplum/core';
import { criteriaFault } from './search.mjs';
import { TopicEvents, filterOf, heartbeatOf, isTopical } from './topics.mjs';

const tries = 4;
const firstPauseMs = 50; // doubled after each try
const timeoutMs = 5000;
const pause = (ms) => new Promise((resolve) => { setTimeout(resolve, ms); });
const isLoopback = (url) => ['127.0.0.1', 'localhost', '[::1]'].includes(new URL(url).hostname);

function matches(subscription, resource) {
  const criteria = isTopical(subscription) ? filterOf(subscription) : subscription.criteria;
  if (criteria === undefined) return true;
  try {
    return matchesSearchRequest(resource, parseSearchRequest(criteria));
  } catch {
    return false; // criteria that cannot be read match nothing
  }
}

function formOf(subscription, event) {
  if (event === 'delete') return 'delete';
  if (!subscription.channel.payload) return 'empty';
  return subscription.meta?.tag?.some((tag) => tag.code === 'post-hook') ? 'post' : 'put';
}

/** {method, url, body} of a notification {subscription, resource, form}. */
function httpForm({ subscription, resource, form, bundle }) {
  const { endpoint } = subscription.channel;
  if (bundle) return { method: 'POST', url: endpoint, body: JSON.stringify(bundle) };
  const own = `${endpoint.replace(/\/$/, '')}/${resource.resourceType}/${resource.id}`;
  const body = JSON.stringify(resource);
  return {
    put: { method: 'PUT', url: own, body },
    post: { method: 'POST', url: endpoint, body },
    empty: { method: 'POST', url: endpoint },
    delete: { method: 'DELETE', url: own },
  }[form];
}

function headersOf(subscription, body) {
  const headers = body ? { 'content-type': subscription.channel.payload ?? 'application/fhir+json' } : {};
  for (const line of subscription.channel.header ?? []) {
    const colon = line.indexOf(':');
    headers[line.slice(0, colon).trim()] = line.slice(colon + 1).trim();
  }
  return headers;
}

export class Notifier {
  queues = new Map(); // subscription id -> promise of its last delivery, so that one subscription is told in order
  pending = 0;
  topics = new TopicEvents();
  base = ''; // of the server, as it names itself
  generation = 0; // what was queued before a reset is not sent

  constructor(repository, personalities, log) {
    Object.assign(this, { repository, personalities, log });
  }

  reset() {
    this.generation += 1;
    this.queues.clear();
    this.topics.reset();
  }

  /** What the server does about a Subscription that was just stored with status requested; undefined when nothing. */
  activated(subscription) {
    if (subscription.resourceType !== 'Subscription' || subscription.status !== 'requested') return undefined;
    if (this.personalities.has('leavesRequested')) return undefined;
    if (isTopical(subscription)) {
      this.#handshake(subscription);
      return undefined;
    }
    const error = criteriaFault(subscription.criteria);
    return { ...subscription, ...(error ? { status: 'error', error } : { status: 'active' }) };
  }

  /** Queues the notifications of a committed change {event, resource}. */
  notify({ event, resource }) {
    if (resource.resourceType === 'Subscription') return;
    if (event === 'delete' && !this.personalities.has('notifiesDeletes')) return;
    for (const subscription of this.repository.resources.get('Subscription')?.values() ?? []) {
      const isDue = subscription.status === 'active' && subscription.channel?.type === 'rest-hook' && matches(subscription, resource);
      if (!isDue) continue;
      const notification = { subscription, resource, event, form: formOf(subscription, event), delayMs: 0 };
      if (isTopical(subscription)) {
        const number = this.topics.add(subscription.id, resource);
        Object.assign(notification, { form: 'topic', bundle: this.topics.bundle(this.base, subscription, 'event-notification', [number]) });
      }
      for (const copy of this.personalities.deliver(notification)) this.#schedule(copy);
    }
  }

  /** Resolves when nothing is left to be sent. */
  async settled() {
    while (this.pending > 0) await pause(5);
  }

  /** Active when the endpoint has taken the handshake, else in error. */
  async #handshake(subscription) {
    const { generation } = this;
    this.pending += 1;
    const told = { subscription, resource: subscription, form: 'handshake', bundle: this.topics.bundle(this.base, subscription, 'handshake') };
    const status = await this.#send(told, httpForm(told));
    this.pending -= 1;
    if (generation !== this.generation) return;
    this.#record(told, httpForm(told), 1, status);
    const isTaken = status >= 200 && status < 300;
    await this.repository.serial(async () => {
      const current = this.repository.current('Subscription', subscription.id);
      if (!current) return;
      await this.repository.createResource({ ...current, ...(isTaken ? { status: 'active' } : { status: 'error', error: `handshake: ${status}` }) });
      this.repository.takeChanges();
    });
    if (isTaken) this.#beat(subscription, generation);
  }

  #beat(subscription, generation) {
    const period = heartbeatOf(subscription);
    if (!period) return;
    const timer = setInterval(() => {
      const current = this.repository.current('Subscription', subscription.id);
      if (generation !== this.generation || current?.status !== 'active') return clearInterval(timer);
      const notification = { subscription: current, resource: current, form: 'heartbeat', bundle: this.topics.bundle(this.base, current, 'heartbeat'), delayMs: 0 };
      for (const copy of this.personalities.deliver(notification)) this.#schedule(copy);
    }, period * 1000);
    timer.unref();
  }

  #schedule(notification) {
    const { generation } = this;
    this.pending += 1;
    const enqueue = () => {
      const { id } = notification.subscription;
      const next = (this.queues.get(id) ?? Promise.resolve())
        .then(() => this.#deliver(notification, () => generation === this.generation))
        .finally(() => { this.pending -= 1; });
      this.queues.set(id, next);
    };
    if (notification.delayMs) setTimeout(enqueue, notification.delayMs);
    else enqueue();
  }

  async #deliver(notification, isWanted) {
    const form = httpForm(notification);
    for (let attempt = 1; attempt <= tries; attempt += 1) {
      if (!isWanted()) return;
      const status = await this.#send(notification, form);
      this.#record(notification, form, attempt, status);
      if (status >= 200 && status < 300) return;
      await pause(firstPauseMs * 2 ** (attempt - 1));
    }
    this.personalities.undelivered(notification, this.repository);
  }

  /** HTTP status, or 0 where there was no answer. */
  async #send({ subscription }, { method, url, body }) {
    if (!isLoopback(url)) return 0;
    try {
      const signal = AbortSignal.timeout(timeoutMs);
      const response = await fetch(url, { method, body, headers: headersOf(subscription, body), signal });
      await response.arrayBuffer();
      return response.status;
    } catch {
      return 0;
    }
  }

  #record({ subscription, resource, form }, { method, url }, attempt, status) {
    const { resourceType, id, meta } = resource;
    this.log.notification({
      subscription: subscription.id, form, method, url, attempt, status, resource: `${resourceType}/${id}/_history/${meta.versionId}`,
    });
  }
}
