// Snapshots of the official StructureDefinitions, indexed for walking: element by path, children by parent path.
import { structureDefinitions } from '../definitions.mjs';

const prefix = 'http://hl7.org/fhir/StructureDefinition/';

function indexSnapshot(definition) {
  const elements = new Map();
  const children = new Map();
  for (const element of definition.snapshot.element) {
    if (element.id.includes(':')) continue; // a slice: only profiles have those, see profiles.mjs
    elements.set(element.path, element);
    const dot = element.path.lastIndexOf('.');
    if (dot < 0) continue;
    const parent = element.path.slice(0, dot);
    if (!children.has(parent)) children.set(parent, []);
    children.get(parent).push(element);
  }
  return { definition, elements, children };
}

const types = new Map();
const definitions = structureDefinitions();
// The base definition of a type wins over constraints on it; primitive types are "constraint" where they narrow another primitive.
for (const definition of definitions) {
  const isBase = definition.derivation !== 'constraint' || definition.kind === 'primitive-type';
  if (isBase) types.set(definition.type, indexSnapshot(definition));
}
for (const definition of definitions) if (!types.has(definition.type)) types.set(definition.type, indexSnapshot(definition));

const profiles = new Map(definitions.filter((d) => d.derivation === 'constraint').map((d) => [d.url, d]));

/** Constraints on the root of the data type profiles that an element names (SimpleQuantity: sqty-1). */
export const profileConstraints = (elementType) =>
  (elementType?.profile ?? []).flatMap((url) => profiles.get(url)?.snapshot.element[0].constraint ?? []);

/** Index of a type ({definition, elements, children}), or undefined for an unknown one. */
export const typeOf = (name) => types.get(name);

export const isResource = (name) => types.get(name)?.definition.kind === 'resource';
export const isPrimitive = (name) => types.get(name)?.definition.kind === 'primitive-type';
export const isConcreteResource = (name) => isResource(name) && !types.get(name).definition.abstract;

/** True for Quantity and what specialises it (Age, Duration, ...). */
export const isQuantity = (name) => name === 'Quantity' || types.get(name)?.definition.baseDefinition === prefix + 'Quantity';

/** "Patient" for the canonical of the Patient definition. */
export const typeOfProfile = (canonical) => canonical.slice(prefix.length);
