// One FHIR request through the library's router, and what the standard asks for around it: content types, Binary as bytes,
// statuses, ETag, Location, Last-Modified, links, Prefer.
import { FhirRouter } from '@medplum/fhir-router';
import { created, isOk, normalizeOperationOutcome } from '@medplum/core';
import { capabilityStatement } from './capability.mjs';
import { outcome, takeStatus } from './outcomes.mjs';

const problem = (status, code, text) => ({ status, headers: {}, body: withoutStatus(outcome(status, code, text)) });
const withoutStatus = ({ $status, ...rest }) => rest;
const isBundleResponse = (resource) => resource?.resourceType === 'Bundle' && /-response$/.test(resource.type);
const versionedUrl = ({ resourceType, id, meta }) => `${resourceType}/${id}/_history/${meta.versionId}`;
const weakTag = (meta) => `W/"${meta.versionId}"`;

/** A Binary sent as itself becomes the resource that carries it. */
function binaryFrom(request) {
  const [, id] = request.path.split('/');
  const contentType = request.headers['content-type'].split(';')[0];
  return { resourceType: 'Binary', ...(id ? { id } : {}), contentType, data: request.raw.toString('base64') };
}

/** {body} or {answer} where there is none to be had. */
export function parseBody(request) {
  const type = request.headers['content-type'] ?? '';
  if (!request.raw.length) {
    const isNeeded = ['POST', 'PUT'].includes(request.method);
    return isNeeded ? { answer: problem(400, 'required', 'Empty body') } : {};
  }
  if (/^Binary(\/|$)/.test(request.path) && !/json/.test(type)) return { body: binaryFrom(request) };
  if (/x-www-form-urlencoded/.test(type)) return { body: Object.fromEntries(new URLSearchParams(request.raw.toString())) };
  if (!/json/.test(type)) return { answer: problem(415, 'not-supported', `Content-Type ${type}`) };
  try {
    return { body: JSON.parse(request.raw.toString('utf8')) };
  } catch (error) {
    return { answer: problem(400, 'structure', `Body is not JSON: ${error.message}`) };
  }
}

/** Adds to each entry that stands for a resource where it is and which version: location, etag, lastModified. */
function completeEntries(bundle) {
  for (const entry of bundle.entry ?? []) {
    const { response, resource } = entry;
    if (response.outcome?.$status) response.status = String(takeStatus(response.outcome));
    if (!resource?.meta?.versionId || !/^20/.test(response.status)) continue;
    Object.assign(response, { location: versionedUrl(resource), etag: weakTag(resource.meta), lastModified: resource.meta.lastUpdated });
  }
}

/** Makes fullUrls absolute and turns $next into links. */
function completeList(bundle, request) {
  for (const entry of bundle.entry ?? []) if (entry.fullUrl) entry.fullUrl = `${request.base}/${entry.fullUrl}`;
  if (!('$next' in bundle)) return;
  const self = `${request.base}/${request.path}${request.query ? `?${request.query}` : ''}`;
  bundle.link = [{ relation: 'self', url: self }];
  if (bundle.$next !== undefined) {
    const next = new URL(self);
    next.searchParams.set('_offset', bundle.$next);
    bundle.link.push({ relation: 'next', url: next.href });
  }
  delete bundle.$next;
}

function versionHeaders(resource, status, base) {
  if (!resource?.meta?.versionId) return {};
  return {
    etag: weakTag(resource.meta),
    'last-modified': new Date(resource.meta.lastUpdated).toUTCString(),
    ...(status === 201 ? { location: `${base}/${versionedUrl(resource)}` } : {}),
  };
}

/** Prefer: return=minimal. A Bundle of responses keeps its entries, which say where everything is. */
function minimal(resource) {
  if (!isBundleResponse(resource)) return undefined;
  return { ...resource, entry: resource.entry?.map(({ response }) => ({ response })) };
}

const wantsBytes = (request, resource) =>
  request.method === 'GET' && resource?.resourceType === 'Binary' && request.headers.accept && !/fhir|json|\*\/\*/.test(request.headers.accept);

export class FhirService {
  router = new FhirRouter();

  constructor(repository, personalities, notifier) {
    Object.assign(this, { repository, personalities, notifier });
  }

  /** The answer {status, headers, body | bytes} to a request whose body has been parsed. */
  async handle(request) {
    if (request.path === 'metadata') {
      return { status: 200, headers: {}, body: this.personalities.describe(capabilityStatement(this.repository.known, request.base)) };
    }
    const ofType = request.method === 'GET' && /^([A-Z][A-Za-z]+)\/_history$/.exec(request.path);
    if (ofType) {
      const asked = new URLSearchParams(request.query);
      const [count, offset] = [asked.get('_count') ?? 100, asked.get('_offset') ?? 0].map(Number);
      const body = this.repository.typeHistory(ofType[1], { since: asked.get('_since') ?? '', count, offset });
      completeList(body, request);
      return { status: 200, headers: {}, body };
    }
    const [result, resource] = await this.repository.serial(() => this.#run(request));
    const status = request.method === 'DELETE' && isOk(result) ? 204 : takeStatus(result);
    if (status === 204) return { status, headers: {} };
    if (isBundleResponse(resource)) completeEntries(resource);
    else if (resource?.resourceType === 'Bundle') completeList(resource, request);
    const headers = versionHeaders(resource, status, request.base);
    if (wantsBytes(request, resource)) {
      return { status, headers: { ...headers, 'content-type': resource.contentType }, bytes: Buffer.from(resource.data ?? '', 'base64') };
    }
    const isMinimal = /return=minimal/.test(request.headers.prefer ?? '') && isOk(result) && request.method !== 'GET';
    return { status, headers, body: isMinimal ? minimal(resource) : (resource ?? result) };
  }

  async #run(request) {
    const { method, path, body } = request;
    const [type, id] = path.split('/');
    if (method === 'POST' && path && !id) delete body.id; // a create names no id
    if (method === 'PUT' && !id && request.headers['if-match']) {
      return [outcome(412, 'conflict', 'If-Match with conditional update is not supported')];
    }
    const isUpsert = method === 'PUT' && id && !this.repository.current(type, id);
    const result = await this.#route(request);
    await this.#commit();
    return isUpsert && isOk(result[0]) ? [created, ...result.slice(1)] : result;
  }

  async #route({ method, path, query, headers, body }) {
    try {
      return await this.router.handleRequest({
        method: method === 'HEAD' ? 'GET' : method, url: query ? `${path}?${query}` : path, pathname: '', params: {}, query: {},
        body, headers, config: { transactions: true },
      }, this.repository);
    } catch (error) {
      return [normalizeOperationOutcome(error)];
    }
  }

  /** Everything that follows from what was just committed. A failed transaction leaves no changes. */
  async #commit() {
    for (const change of this.repository.takeChanges()) {
      this.notifier.notify(change);
      const activated = change.event !== 'delete' && this.notifier.activated(change.resource);
      if (activated) await this.repository.createResource(activated);
    }
    this.repository.takeChanges(); // an activation notifies nobody
  }
}
