// Takes its time with every n-th request: {ms: 500, every: 1, when: "before"}. "before": the work starts late; "after": the answer
// to finished work starts late; "drip": the body comes in pieces of `size` bytes, `ms` apart.
import { everyNth, pause } from './common.mjs';

export default ({ ms = 500, when = 'before', size = 16, ...more }) => {
  const isSlow = everyNth(more);
  if (when === 'before') return { refuse: async () => (isSlow() ? pause(ms) : undefined) };
  return {
    answer: async (request, answer) => {
      if (!isSlow()) return undefined;
      if (when === 'drip') return { ...answer, drip: { size, ms } };
      await pause(ms);
      return answer;
    },
  };
};
