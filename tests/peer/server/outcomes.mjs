// OperationOutcomes with an HTTP status of their own. The library derives the status from the outcome's id, which knows only a
// few; ours travels beside the outcome as $status and is taken off before anything is sent.
import { OperationOutcomeError, getStatus } from '@medplum/core';

/** An OperationOutcome with one error; `code` is a FHIR issue type. */
export const outcome = (status, code, text, more = {}) => ({
  resourceType: 'OperationOutcome', issue: [{ severity: 'error', code, details: { text }, ...more }], $status: status,
});

/** Throws an outcome through the library, which hands it back as the result of the request or of the Bundle entry. */
export function fail(problem) {
  throw new OperationOutcomeError(problem);
}

/** HTTP status of an outcome; takes $status off. */
export function takeStatus(problem) {
  const status = problem.$status ?? getStatus(problem);
  delete problem.$status;
  return status;
}
