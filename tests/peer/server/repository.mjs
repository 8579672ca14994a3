// The library's in-memory repository with what it lacks: validation, rollback, deletion that is remembered, stable history.
// Relies on its maps: resources (type -> id -> resource) and history (type -> id -> versions, oldest first).
import { MemoryRepository } from '@medplum/fhir-router';
import { gone, notFound, validateResource } from '@medplum/core';
import { resourceTypes } from '../definitions.mjs';
import { fail, outcome } from './outcomes.mjs';
import { search } from './search.mjs';

const withoutServerMeta = (resource) => {
  const copy = structuredClone(resource);
  if (!copy.meta) return copy;
  delete copy.meta.versionId;
  delete copy.meta.lastUpdated;
  if (Object.keys(copy.meta).length === 0) delete copy.meta;
  return copy;
};

export class PeerRepository extends MemoryRepository {
  known = new Set(resourceTypes());
  deleted = new Set(); // "Type/id"
  deletedAt = new Map(); // "Type/id" -> instant of the last deletion
  changes = []; // {event: create|update|delete, resource}, committed and not yet taken
  undo = undefined; // undo steps of the running transaction
  queue = Promise.resolve();

  /** personalities decide what is refused beyond the standard, see ../personalities/index.mjs. */
  constructor(personalities) {
    super();
    this.personalities = personalities;
  }

  current(type, id) {
    return this.resources.get(type)?.get(id);
  }

  /** Runs one request after the other, so that nobody sees a half-done transaction. */
  serial(run) {
    this.queue = this.queue.then(run, run);
    return this.queue;
  }

  takeChanges() {
    return this.changes.splice(0);
  }

  async createResource(resource, options) {
    const fresh = withoutServerMeta(resource);
    const type = fresh.resourceType;
    if (!this.known.has(type)) fail(outcome(404, 'not-supported', `Unknown resource type ${type}`));
    const before = fresh.id && this.current(type, fresh.id);
    this.#refuse({ interaction: before ? 'update' : 'create', type, id: fresh.id });
    this.#validate(fresh);
    const stamp = this.personalities.stamp();
    if (stamp) fresh.meta = { ...fresh.meta, lastUpdated: stamp };
    const stored = await super.createResource(fresh, options);
    this.#remember(stored, before);
    return stored;
  }

  updateResource(resource, options) {
    const isNew = !this.current(resource.resourceType, resource.id);
    if (isNew) this.#refuse({ interaction: 'create-with-id', type: resource.resourceType, id: resource.id });
    return super.updateResource(resource, options);
  }

  async deleteResource(type, id) {
    const before = this.current(type, id);
    if (!before) return; // deleting twice is no error
    this.#refuse({ interaction: 'delete', type, id });
    await super.deleteResource(type, id);
    this.deleted.add(`${type}/${id}`);
    this.deletedAt.set(`${type}/${id}`, new Date().toISOString());
    this.changes.push({ event: 'delete', resource: before });
    this.undo?.push(() => {
      this.resources.get(type).set(id, before);
      this.deleted.delete(`${type}/${id}`);
    });
  }

  async readResource(type, id) {
    if (this.deleted.has(`${type}/${id}`)) fail(gone);
    return super.readResource(type, id);
  }

  /** Newest first. The library reverses the stored list in place each time it is asked. */
  async readHistory(type, id) {
    const versions = this.history.get(type)?.get(id);
    if (!versions) fail(notFound);
    const entry = versions.toReversed().map((version) => ({
      fullUrl: `${type}/${id}`,
      resource: structuredClone(version),
      request: { method: 'PUT', url: `${type}/${id}` },
      response: { status: '200', etag: `W/"${version.meta.versionId}"`, lastModified: version.meta.lastUpdated },
    }));
    return { resourceType: 'Bundle', type: 'history', total: entry.length, entry };
  }

  /** Of all of a type since an instant, newest first, deletions among them. */
  typeHistory(type, { since = '', count = 100, offset = 0 }) {
    const entry = [];
    const add = (at, one) => { if (Date.parse(at) >= (since ? Date.parse(since) : 0)) entry.push({ at, one }); };
    for (const [id, versions] of this.history.get(type) ?? []) {
      versions.forEach((version, index) => add(version.meta.lastUpdated, {
        fullUrl: `${type}/${id}`,
        resource: structuredClone(version),
        request: index ? { method: 'PUT', url: `${type}/${id}` } : { method: 'POST', url: type },
        response: { status: index ? '200' : '201', etag: `W/"${version.meta.versionId}"`, lastModified: version.meta.lastUpdated },
      }));
      const gone = this.deletedAt.get(`${type}/${id}`);
      if (gone && this.deleted.has(`${type}/${id}`)) {
        add(gone, { fullUrl: `${type}/${id}`, request: { method: 'DELETE', url: `${type}/${id}` }, response: { status: '204', lastModified: gone } });
      }
    }
    entry.sort((a, b) => Date.parse(b.at) - Date.parse(a.at));
    const page = entry.slice(offset, offset + count).map(({ one }) => one);
    return { resourceType: 'Bundle', type: 'history', total: entry.length, entry: page, $next: offset + count < entry.length ? offset + count : undefined };
  }

  async search(request) {
    return search(this, request);
  }

  /** The library's own search: filters and sorting only. */
  async plainSearch(request) {
    return super.search(request);
  }

  /** All or nothing, by undo steps; the library's is a no-op. A nested call joins the outer transaction. */
  async withTransaction(run) {
    if (this.undo) return run(undefined);
    const committed = this.changes.length;
    this.undo = [];
    try {
      return await run(undefined);
    } catch (error) {
      for (const step of this.undo.toReversed()) step();
      this.changes.length = committed;
      throw error;
    } finally {
      this.undo = undefined;
    }
  }

  reset() {
    this.clear();
    this.deleted.clear();
    this.changes.length = 0;
  }

  /** Takes up where another peer stopped: `versions`, oldest first, keep their ids, numbers and times. Nobody is notified. */
  restore(versions) {
    for (const version of versions) {
      const { resourceType: type, id } = version;
      for (const map of [this.resources, this.history]) if (!map.has(type)) map.set(type, new Map());
      this.resources.get(type).set(id, version);
      const before = this.history.get(type).get(id) ?? [];
      this.history.get(type).set(id, [...before, version]);
    }
  }

  #refuse(write) {
    const problem = this.personalities.refuseWrite(write);
    if (problem) fail(problem);
  }

  #validate(resource) {
    if (!this.personalities.has('anyVersion')) validateResource(resource); // structure; throws an OperationOutcomeError (400)
    const issue = this.personalities.judge(resource).map(({ layer, where, text }) => ({
      severity: 'error',
      code: { invariant: 'invariant', binding: 'code-invalid' }[layer] ?? 'structure',
      details: { text },
      expression: [where],
    }));
    if (issue.length) fail({ resourceType: 'OperationOutcome', issue });
  }

  #remember(stored, before) {
    const { resourceType: type, id } = stored;
    const key = `${type}/${id}`;
    const wasDeleted = this.deleted.delete(key);
    this.changes.push({ event: before ? 'update' : 'create', resource: stored });
    this.undo?.push(() => {
      if (before) this.resources.get(type).set(id, before);
      else this.resources.get(type).delete(id);
      this.history.get(type).get(id).pop();
      if (wasDeleted) this.deleted.add(key);
    });
  }
}
