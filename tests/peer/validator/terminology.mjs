// Codes of HL7's own code systems and offline expansion of value sets (specification, HL7 v3, HL7 v2).
// A system is `true` in an expansion where all its codes count but are not listed here; undefined means "cannot be decided offline".
import { terminologyResources } from '../definitions.mjs';

const valueSets = new Map();
const codeSystems = new Map();
for (const resource of terminologyResources()) (resource.resourceType === 'ValueSet' ? valueSets : codeSystems).set(resource.url, resource);

function foldCase(codes) {
  const lower = new Set([...codes].map((code) => code.toLowerCase()));
  return { has: (code) => lower.has(code.toLowerCase()), [Symbol.iterator]: () => lower[Symbol.iterator]() };
}

function collectCodes(concepts, into) {
  for (const concept of concepts ?? []) {
    into.add(concept.code);
    collectCodes(concept.concept, into);
  }
  return into;
}

const isComplete = (system) => system?.content === 'complete' && system.concept;
const codesBySystem = new Map();

/** A CodeSystem or ValueSet beside the official ones; before anything is asked about it. */
export const register = (resource) => (resource.resourceType === 'ValueSet' ? valueSets : codeSystems).set(resource.url, resource);

/** All codes of a complete code system; undefined where the system is unknown or not complete here. */
export function codesOf(url) {
  if (!codesBySystem.has(url)) {
    const system = codeSystems.get(url);
    const codes = isComplete(system) ? collectCodes(system.concept, new Set()) : undefined;
    codesBySystem.set(url, codes && system.caseSensitive === false ? foldCase(codes) : codes);
  }
  return codesBySystem.get(url);
}

/** Parent code -> child codes, from nesting and from the property subsumedBy. */
function hierarchyOf(system) {
  const children = new Map();
  const link = (parent, code) => {
    if (!children.has(parent)) children.set(parent, []);
    children.get(parent).push(code);
  };
  const visit = (concepts, parent) => {
    for (const concept of concepts ?? []) {
      if (parent) link(parent, concept.code);
      for (const property of concept.property ?? []) if (property.code === 'subsumedBy') link(property.valueCode, concept.code);
      visit(concept.concept, concept.code);
    }
  };
  visit(system.concept, undefined);
  return children;
}

function filteredCodes(include) {
  const system = codeSystems.get(include.system);
  if (!isComplete(system) || include.filter.length !== 1) return undefined;
  const { property, op, value } = include.filter[0];
  if (!['concept', 'code', 'subsumedBy'].includes(property) || !['is-a', 'descendent-of'].includes(op)) return undefined;
  const children = hierarchyOf(system);
  const found = new Set(op === 'is-a' ? [value] : []);
  const descend = (code) => {
    for (const child of children.get(code) ?? []) {
      if (found.has(child)) continue;
      found.add(child);
      descend(child);
    }
  };
  descend(value);
  return found;
}

function addCodes(expansion, system, codes) {
  const have = expansion.get(system);
  expansion.set(system, have === true || codes === true ? true : new Set([...(have ?? []), ...codes]));
}

/** Adds what one `include` selects; false when that cannot be decided offline. */
function addInclude(expansion, include) {
  if (include.valueSet) {
    return include.valueSet.every((url) => {
      const other = expand(url);
      for (const [system, codes] of other ?? []) addCodes(expansion, system, codes);
      return Boolean(other);
    });
  }
  const listed = include.concept?.map((concept) => concept.code);
  const codes = listed ?? (include.filter ? filteredCodes(include) : codesOf(include.system));
  if (codes) addCodes(expansion, include.system, codes);
  return Boolean(codes);
}

function removeExclude(expansion, exclude) {
  if (!exclude.concept) return false;
  const codes = expansion.get(exclude.system);
  if (codes instanceof Set) for (const concept of exclude.concept) codes.delete(concept.code);
  return true;
}

const expansions = new Map();

/** Map system -> Set of codes (or true), or undefined when the value set cannot be expanded offline. */
export function expand(canonical) {
  const url = canonical.split('|')[0];
  if (expansions.has(url)) return expansions.get(url);
  expansions.set(url, undefined); // a value set that includes itself ends here
  const compose = valueSets.get(url)?.compose;
  if (!compose) return undefined;
  const expansion = new Map();
  const included = compose.include.map((include) => addInclude(expansion, include)).every(Boolean);
  const excluded = (compose.exclude ?? []).map((exclude) => removeExclude(expansion, exclude)).every(Boolean);
  if (included && excluded) expansions.set(url, expansion);
  return expansions.get(url);
}

/** Is the code in the expansion? Without a system any system of the expansion will do (elements of type code). */
export function isIn(expansion, system, code) {
  if (system === undefined) return [...expansion.values()].some((codes) => codes === true || codes.has(code));
  const codes = expansion.get(system);
  return codes === true || Boolean(codes?.has(code));
}
