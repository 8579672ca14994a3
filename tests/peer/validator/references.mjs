// References: allowed target types, and, inside a batch or transaction, that every local target is there.
import { isResource, typeOfProfile } from './types.mjs';

const idPattern = '[A-Za-z0-9.-]{1,64}';
const restful = new RegExp(`(?:^|/)([A-Z][A-Za-z]+)/${idPattern}(?:/_history/${idPattern})?$`);
const relative = new RegExp(`^([A-Z][A-Za-z]+/${idPattern})(?:/_history/${idPattern})?$`);

/** Type that a Reference claims to point at, or undefined. */
const targetType = (reference) =>
  restful.exec(reference.reference)?.[1] ?? /^([A-Z][A-Za-z]+)\?/.exec(reference.reference)?.[1] ?? reference.type;

/** Fault text where the Reference points at a type that the element does not allow. */
export function wrongTarget(elementType, reference) {
  const targets = (elementType?.targetProfile ?? []).map(typeOfProfile);
  if (!targets.length || targets.includes('Resource') || typeof reference.reference !== 'string') return undefined;
  const type = targetType(reference);
  if (!type || !isResource(type) || targets.includes(type)) return undefined;
  return `${type} is not an allowed target (${targets.join(', ')})`;
}

/** Calls visit(text, path, member name) for each string member in the tree, without descending into contained data. */
function eachString(node, at, visit) {
  for (const [name, value] of Object.entries(node ?? {})) {
    const path = Array.isArray(node) ? `${at}[${name}]` : `${at}.${name}`;
    if (typeof value === 'string') visit(value, path, name);
    else if (value && typeof value === 'object') eachString(value, path, visit);
  }
}

/** What the Bundle itself provides: fullUrls, and Type/id of what it puts or of what it posts with an id of its own base. */
function providedBy(bundle) {
  const provided = new Set();
  for (const entry of bundle.entry ?? []) {
    if (entry.fullUrl) provided.add(entry.fullUrl);
    if (entry.request?.method === 'PUT') provided.add(entry.request.url);
  }
  return provided;
}

const isUrnReference = (text) => /^urn:(uuid|oid):/.test(text);

/**
 * Reports local references of a batch or transaction that lead nowhere.
 * A urn:uuid in `reference` or `url` must be a fullUrl of the Bundle; Type/id must be put by the Bundle or be in `known`
 * (a Set of "Type/id"). Without `known`, Type/id is taken to exist on the server.
 */
export function checkBundleReferences(bundle, at, known, report) {
  if (!['transaction', 'batch'].includes(bundle.type)) return;
  const provided = providedBy(bundle);
  eachString(bundle.entry, `${at}.entry`, (text, path, name) => {
    if (isUrnReference(text) && ['reference', 'url'].includes(name) && !provided.has(text)) {
      report(path, `${text} is not a fullUrl of the bundle`);
    }
    const local = name === 'reference' && known && relative.exec(text)?.[1];
    if (local && !provided.has(local) && !known.has(local)) {
      report(path, `${text} is neither in the bundle nor known`);
    }
  });
}
