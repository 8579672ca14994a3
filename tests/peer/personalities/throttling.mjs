// Answers 429 above a number of requests in a time: {requests: 5, perSeconds: 1, retryAfter: 1, form: "both"}.
// Retry-After comes as seconds, as an HTTP date, in turns ("both"), or not at all ("none"). Source of the forms: RFC 9110, 10.2.3.
import { problem } from './common.mjs';

export default ({ requests = 5, perSeconds = 1, retryAfter = perSeconds, form = 'both' }) => {
  let windowStart = 0;
  let used = 0;
  let refused = 0;
  const asDate = () => new Date(Date.now() + retryAfter * 1000 + 999).toUTCString(); // whole seconds, never too early
  const retryHeader = () => {
    const wanted = form === 'both' ? ['seconds', 'date'][refused % 2] : form;
    refused += 1;
    if (wanted === 'none') return {};
    return { 'retry-after': wanted === 'date' ? asDate() : String(Math.ceil(retryAfter)) };
  };
  return {
    refuse: () => {
      const now = performance.now();
      if (now - windowStart >= perSeconds * 1000) {
        windowStart = now;
        used = 0;
      }
      used += 1;
      return used > requests ? problem(429, 'throttled', 'Too many requests', retryHeader()) : undefined;
    },
  };
};
