// @medplum/core's own validator as a second opinion, and as the one that knows slicing, for profiles.
import { validateResource } from '@medplum/core';
import { indexDefinitions, isR5 } from '../definitions.mjs';

// Its constraint checks are fhirpath.js's job here; its base64 check forbids the white space that R4 allows.
const ignored = /^Constraint |Invalid base64Binary/;

function issuesOf(resource, options) {
  try {
    validateResource(resource, options);
    return [];
  } catch (error) {
    const issues = error.outcome?.issue ?? [{ severity: 'error', details: { text: String(error) } }];
    return issues.filter((issue) => issue.severity === 'error')
      .map((issue) => ({ where: issue.expression?.[0] ?? '', text: issue.details?.text ?? '' }));
  }
}

/** Reports what the library finds against the base definitions. */
export function checkSecondOpinion(resource, report) {
  if (isR5) return;  // it knows R4 alone
  indexDefinitions();
  for (const { where, text } of issuesOf(resource)) if (!ignored.test(text)) report('medplum', where, text);
}

/** Reports what breaks the profiles (StructureDefinitions with snapshot) made for the resource's type. */
export function checkProfiles(resource, profiles, report) {
  indexDefinitions();
  for (const profile of profiles.filter((candidate) => candidate.type === resource?.resourceType)) {
    for (const { where, text } of issuesOf(resource, { profile })) report('profile', where, `${profile.name}: ${text}`);
  }
}
