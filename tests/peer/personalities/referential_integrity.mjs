// Refuses a write with a reference to a resource of this server that does not exist: {status: 400}.
import { problem } from './common.mjs';

const local = /^([A-Z][A-Za-z]+)\/([A-Za-z0-9.-]{1,64})(\/_history\/[A-Za-z0-9.-]{1,64})?$/;

function references(node, found = []) {
  for (const [name, value] of Object.entries(node ?? {})) {
    if (name === 'reference' && typeof value === 'string') found.push(value);
    else if (value && typeof value === 'object') references(value, found);
  }
  return found;
}

const createdBy = (body) => (body.entry ?? []).filter(({ request }) => request?.method === 'PUT').map(({ request }) => request.url);

export default ({ status = 400 }) => ({
  refuse: ({ body }, { repository }) => {
    if (!body?.resourceType) return undefined;
    const own = new Set(createdBy(body));
    const dangling = references(body).find((text) => {
      const [, type, id] = local.exec(text) ?? [];
      return type && !own.has(`${type}/${id}`) && !repository.current(type, id);
    });
    return dangling && problem(status, 'not-found', `Resource ${dangling} not found`);
  },
});
