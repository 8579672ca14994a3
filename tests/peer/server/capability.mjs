// What the peer says about itself. Personalities alter it: some tell the truth about what they refuse, some do not.
import { globalSchema } from '@medplum/core';

const interactions = ['read', 'vread', 'update', 'patch', 'delete', 'history-instance', 'history-type', 'create', 'search-type'];
const matchable = ['string', 'token', 'reference', 'date', 'uri'];

const backport = 'http://hl7.org/fhir/uv/subscriptions-backport/StructureDefinition/backport-subscription';

/** The member searchParam, absent where there is none. */
function searchParameters(type) {
  const searchParam = Object.values(globalSchema.types[type]?.searchParams ?? {})
    .filter((parameter) => matchable.includes(parameter.type))
    .map((parameter) => ({ name: parameter.code, type: parameter.type }));
  return searchParam.length ? { searchParam } : {};
}

const resourceEntry = (type) => ({
  type,
  interaction: interactions.map((code) => ({ code })),
  versioning: 'versioned-update',
  readHistory: true,
  updateCreate: true,
  conditionalCreate: true,
  conditionalUpdate: true,
  conditionalDelete: 'single',
  ...searchParameters(type),
  ...(type === 'Subscription' ? { supportedProfile: [backport] } : {}),
});

/** CapabilityStatement for the types at the base URL. */
export function capabilityStatement(types, base) {
  return {
    resourceType: 'CapabilityStatement',
    status: 'active',
    date: '2026-01-01',
    kind: 'instance',
    software: { name: 'FHIR test peer' },
    implementation: { description: 'Test peer; all data are invented and lost when it stops', url: base },
    fhirVersion: '4.0.1',
    format: ['application/fhir+json', 'json'],
    rest: [{ mode: 'server', resource: [...types].map(resourceEntry), interaction: [{ code: 'transaction' }, { code: 'batch' }] }],
  };
}
