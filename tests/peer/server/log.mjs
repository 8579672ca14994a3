// What the peer received and sent, for tests to look at. Bounded; the oldest entries go first.
import { createHash } from 'node:crypto';

const limit = 50_000;
const shownHeaders = ['if-match', 'if-none-exist', 'if-none-match', 'prefer', 'accept', 'content-type', 'cache-control'];

const shown = (headers) => Object.fromEntries(shownHeaders.filter((name) => headers[name]).map((name) => [name, headers[name]]));

export class RequestLog {
  entries = [];
  next = 1;

  /** Opens the entry of a request; `finish(answer)` completes it. The sha256 tells whether two bodies were byte-identical. */
  request({ method, url, headers, raw }) {
    const started = performance.now();
    const entry = this.#add('request', {
      method, url, headers: shown(headers), authorized: Boolean(headers.authorization), bytes: raw.length,
      ...(raw.length ? { sha256: createHash('sha256').update(raw).digest('hex') } : {}),
    });
    const finish = ({ status, by, cut, body }) => {
      const bundle = body?.resourceType === 'Bundle' ? { bundle: body.type, entries: body.entry?.length ?? 0 } : {};
      Object.assign(entry, { status, ms: Math.round(performance.now() - started), ...bundle, ...(by ? { by } : {}), ...(cut ? { cut } : {}) });
    };
    return { entry, finish };
  }

  notification(fields) {
    this.#add('notification', fields);
  }

  /** Entries of a kind ("request", "notification", or all), with a number above `since`. */
  list({ kind, since = 0 } = {}) {
    return this.entries.filter((entry) => entry.n > since && (!kind || entry.kind === kind));
  }

  reset() {
    this.entries = [];
    this.next = 1;
  }

  #add(kind, fields) {
    const entry = { n: this.next, kind, at: new Date().toISOString(), ...fields };
    this.next += 1;
    this.entries.push(entry);
    if (this.entries.length > limit) this.entries.splice(0, limit / 10);
    return entry;
  }
}
