// Subscriptions with a topic, as the backport guide adds them to R4 (http://hl7.org/fhir/uv/subscriptions-backport): handshake before the first
// notification, numbered events, heartbeats, $status and $events. A Subscription whose criteria are an address has a topic; its filter-criteria extension
// says what it is told of (without one: everything).
import { outcome, takeStatus } from './outcomes.mjs';

const guide = 'http://hl7.org/fhir/uv/subscriptions-backport/StructureDefinition';
const valueOf = (element, name) => element?.extension?.find(({ url }) => url === `${guide}/${name}`);
const parameter = (name, value) => ({ name, ...value });

export const isTopical = (subscription) => /^https?:/.test(subscription.criteria ?? '');
export const filterOf = (subscription) => valueOf(subscription._criteria, 'backport-filter-criteria')?.valueString;
export const heartbeatOf = (subscription) => valueOf(subscription.channel, 'backport-heartbeat-period')?.valueUnsignedInt ?? 0;
const contentOf = (subscription) => valueOf(subscription.channel._payload, 'backport-payload-content')?.valueCode ?? 'empty';

/** What each topical Subscription has been told of: id -> [{resource, timestamp}], numbered from 1. */
export class TopicEvents {
  events = new Map();

  of(id) {
    return this.events.get(id) ?? [];
  }

  /** Counts an event; its number. */
  add(id, resource) {
    this.events.set(id, [...this.of(id), { resource, timestamp: new Date().toISOString() }]);
    return this.of(id).length;
  }

  reset() {
    this.events.clear();
  }

  #status(base, subscription, type, numbers) {
    const focus = (n) => {
      const { resource } = this.of(subscription.id)[n - 1];
      return { reference: `${base}/${resource.resourceType}/${resource.id}` };
    };
    const event = (n) => parameter('notification-event', { part: [
      parameter('event-number', { valueString: String(n) }),
      parameter('timestamp', { valueInstant: this.of(subscription.id)[n - 1].timestamp }),
      ...(contentOf(subscription) === 'empty' ? [] : [parameter('focus', { valueReference: focus(n) })]),
    ] });
    return { resourceType: 'Parameters', parameter: [
      parameter('subscription', { valueReference: { reference: `${base}/Subscription/${subscription.id}` } }),
      parameter('topic', { valueCanonical: subscription.criteria }),
      parameter('status', { valueCode: subscription.status }),
      parameter('type', { valueCode: type }),
      parameter('events-since-subscription-start', { valueString: String(this.of(subscription.id).length) }),
      ...numbers.map(event),
    ] };
  }

  /** A notification Bundle of that type about those events. */
  bundle(base, subscription, type, numbers = []) {
    const entry = [{
      fullUrl: `urn:uuid:${crypto.randomUUID()}`, resource: this.#status(base, subscription, type, numbers),
      request: { method: 'GET', url: `${base}/Subscription/${subscription.id}/$status` }, response: { status: '200' },
    }];
    for (const n of contentOf(subscription) === 'full-resource' ? numbers : []) {
      const { resource } = this.of(subscription.id)[n - 1];
      const url = `${resource.resourceType}/${resource.id}`;
      entry.push({ fullUrl: `${base}/${url}`, resource, request: { method: 'PUT', url }, response: { status: '200' } });
    }
    return { resourceType: 'Bundle', type: 'history', timestamp: new Date().toISOString(), entry };
  }

  /** The answer to Subscription/$status, Subscription/[id]/$status and Subscription/[id]/$events; undefined for any other request. */
  answer(request, repository) {
    const [, id, operation] = /^Subscription(?:\/([^/$]+))?\/\$(status|events)$/.exec(request.path) ?? [];
    if (!operation || request.method !== 'GET') return undefined;
    const query = new URLSearchParams(request.query);
    const ids = id ? [id] : query.getAll('id');
    const wanted = ids.map((one) => repository.current('Subscription', one)).filter(Boolean).filter(isTopical);
    if (wanted.length < ids.length || (operation === 'events' && !id)) {
      const body = outcome(404, 'not-found', 'No such Subscription with a topic');
      return { status: takeStatus(body), headers: {}, body };
    }
    if (operation === 'events') {
      const total = this.of(id).length;
      const first = Number(query.get('eventsSinceNumber') ?? 1);
      const last = Math.min(total, Number(query.get('eventsUntilNumber') ?? total));
      const numbers = Array.from({ length: Math.max(0, last - first + 1) }, (_, n) => first + n);
      return { status: 200, headers: {}, body: this.bundle(request.base, wanted[0], 'query-event', numbers) };
    }
    const entry = wanted.map((one) => ({ resource: this.#status(request.base, one, 'query-status', []) }));
    return { status: 200, headers: {}, body: { resourceType: 'Bundle', type: 'searchset', total: entry.length, entry } };
  }
}
