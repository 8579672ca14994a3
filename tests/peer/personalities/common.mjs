// What several personalities need.
import { outcome, takeStatus } from '../server/outcomes.mjs';

/**
 * Counts its calls and says true on every n-th of them: on the n-th, 2n-th, ... after the first `skip`, at most `times` times.
 */
export function everyNth({ every = 1, skip = 0, times = Infinity } = {}) {
  let calls = 0;
  let hits = 0;
  return () => {
    calls += 1;
    if (calls <= skip || (calls - skip) % every !== 0 || hits >= times) return false;
    hits += 1;
    return true;
  };
}

/** An answer that carries an OperationOutcome. */
export function problem(status, code, text, headers = {}) {
  const body = outcome(status, code, text);
  return { status: takeStatus(body), headers, body };
}

export const isTransaction = (request) => request.method === 'POST' && request.path === '' && request.body?.type === 'transaction';
export const isSearch = (request) => request.method === 'GET' ? /^[A-Z][A-Za-z]+$/.test(request.path) : /\/_search$/.test(request.path);
export const pause = (ms) => new Promise((resolve) => { setTimeout(resolve, ms); });
