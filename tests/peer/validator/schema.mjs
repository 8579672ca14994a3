// The official JSON schema, one compiled function a resource type. It knows shapes, unknown members and the regular
// expressions of primitives; it does not know bindings, invariants or that a required primitive is required.
import { createRequire } from 'node:module';
import Ajv from 'ajv';
import { officialSchema } from '../definitions.mjs';

const draft06 = createRequire(import.meta.url)('ajv/dist/refs/json-schema-draft-06.json');

function openVersions(property) {
  for (const version of [property, property.items ?? {}]) delete version.enum;
}

function openSchema() {
  const schema = officialSchema();
  delete schema.id;
  delete schema.oneOf;
  delete schema.discriminator;
  schema.$id = 'fhir';
  // The published list of versions stops at 4.0.0; the required binding knows 4.0.1.
  for (const type of ['CapabilityStatement', 'ImplementationGuide', 'StructureDefinition']) openVersions(schema.definitions[type].properties.fhirVersion);
  schema.definitions.ResourceList = {}; // nested resources are visited on their own, with a better path
  return schema;
}

const ajv = new Ajv.default({ strict: false, allErrors: true, validateFormats: false, logger: false });
ajv.addMetaSchema(draft06);
const schema = openSchema();
ajv.addSchema(schema);
const compiled = new Map();

function schemaOf(type) {
  if (!compiled.has(type)) compiled.set(type, schema.definitions[type] ? ajv.compile({ $ref: `fhir#/definitions/${type}` }) : undefined);
  return compiled.get(type);
}

/** Reports each breach of the schema as (path below the resource, text). */
export function checkSchema(resource, report) {
  const validate = schemaOf(resource.resourceType);
  if (!validate || validate(resource)) return;
  for (const error of validate.errors) {
    if (error.keyword === 'oneOf' || error.keyword === 'anyOf') continue; // its branches are reported one by one
    const member = error.params?.additionalProperty ? ` (${error.params.additionalProperty})` : '';
    report(error.instancePath.replaceAll('/', '.'), error.message + member);
  }
}
