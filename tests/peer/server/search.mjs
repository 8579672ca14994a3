// Search on top of the library's filters: unknown parameters are refused, one level of chaining, references without a type,
// _include and _revinclude, paging. The result carries fullUrls relative to the base and, as $next, the offset of the next page.
import { evalFhirPath, globalSchema, parseSearchRequest } from '@medplum/core';
import { fail, outcome } from './outcomes.mjs';

const defaultPage = 20;
const unsupported = ['number', 'quantity', 'composite', 'special'];

const parametersOf = (type) => globalSchema.types[type]?.searchParams;

/** Splits patient:Patient.identifier into its parts; undefined where there is no chain. */
function chainOf(code) {
  const match = /^([a-z-]+)(?::([A-Za-z]+))?\.([a-z_-]+)$/i.exec(code);
  return match && { reference: match[1], type: match[2], parameter: match[3] };
}

async function resolveChain(repository, parameter, chain, value) {
  const types = chain.type ? [chain.type] : (parameter.target ?? []);
  const found = [];
  for (const type of types.filter((candidate) => parametersOf(candidate)?.[chain.parameter])) {
    const query = parseSearchRequest(`${type}?${chain.parameter}=${encodeURIComponent(value)}`);
    const matches = await repository.plainSearch(query);
    found.push(...(matches.entry ?? []).map((entry) => `${type}/${entry.resource.id}`));
  }
  return { code: chain.reference, operator: 'eq', value: found.join(',') || 'None/none' };
}

/** patient=7 means patient=Patient/7 (any allowed type); the library compares texts. */
function withTypes(filter, parameter) {
  const spellOut = (id) => (parameter.target ?? ['Patient']).map((type) => `${type}/${id}`);
  return { ...filter, value: filter.value.split(',').flatMap(spellOut).join(',') };
}

async function prepareFilter(repository, type, filter) {
  const parameters = parametersOf(type);
  const chain = chainOf(filter.code);
  if (chain && parameters[chain.reference]) return resolveChain(repository, parameters[chain.reference], chain, filter.value);
  const parameter = parameters[filter.code];
  if (!parameter) return fail(outcome(400, 'invalid', `Unknown search parameter ${filter.code} for ${type}`));
  if (unsupported.includes(parameter.type)) {
    return fail(outcome(501, 'not-supported', `Search type ${parameter.type} is not supported by this server`));
  }
  const lacksType = parameter.type === 'reference' && filter.value && !filter.value.includes('/');
  return lacksType ? withTypes(filter, parameter) : filter;
}

/** Fault text where Subscription criteria cannot be matched here; undefined when they can. */
export function criteriaFault(criteria) {
  const type = /^[A-Za-z]+/.exec(criteria)?.[0];
  const parameters = parametersOf(type);
  if (!parameters) return `unknown type ${type}`;
  const unknown = (parseSearchRequest(criteria).filters ?? []).find((filter) => !parameters[filter.code]);
  return unknown && `parameter ${unknown.code} is not supported in criteria`;
}

function included(repository, rule, resource) {
  const parameter = parametersOf(rule.resourceType)?.[rule.searchParam];
  if (!parameter) fail(outcome(400, 'invalid', `Unknown _include ${rule.resourceType}:${rule.searchParam}`));
  return evalFhirPath(parameter.expression, resource)
    .map((value) => (value.reference ?? '').split('/'))
    .filter(([type]) => !rule.targetType || rule.targetType === type)
    .map(([type, id]) => repository.current(type, id))
    .filter(Boolean);
}

async function reverseIncluded(repository, rule, resource) {
  const value = `${resource.resourceType}/${resource.id}`;
  const filters = [{ code: rule.searchParam, operator: 'eq', value }];
  const matches = await repository.plainSearch({ resourceType: rule.resourceType, filters });
  return (matches.entry ?? []).map((entry) => entry.resource);
}

async function withIncludes(repository, request, page) {
  const entries = new Map();
  const add = (resource, mode) => {
    const fullUrl = `${resource.resourceType}/${resource.id}`;
    if (!entries.has(fullUrl)) entries.set(fullUrl, { fullUrl, resource: structuredClone(resource), search: { mode } });
  };
  for (const resource of page) add(resource, 'match');
  for (const resource of page) {
    for (const rule of request.include ?? []) for (const item of included(repository, rule, resource)) add(item, 'include');
    for (const rule of request.revInclude ?? []) for (const item of await reverseIncluded(repository, rule, resource)) add(item, 'include');
  }
  return [...entries.values()];
}

/** Searchset Bundle for a parsed search request of the library. */
export async function search(repository, request) {
  const { resourceType: type, count = defaultPage, offset = 0 } = request;
  if (!parametersOf(type)) fail(outcome(404, 'not-supported', `Unknown resource type ${type}`));
  const filters = [];
  for (const filter of request.filters ?? []) filters.push(await prepareFilter(repository, type, filter));
  const all = await repository.plainSearch({ ...request, filters, count: undefined, offset: undefined });
  const page = (all.entry ?? []).slice(offset, offset + count).map((entry) => entry.resource);
  const entry = await withIncludes(repository, request, page);
  const end = offset + page.length;
  return {
    resourceType: 'Bundle', type: 'searchset', total: all.total,
    $next: end < all.total && count > 0 ? end : undefined,
    ...(entry.length ? { entry } : {}),
  };
}
