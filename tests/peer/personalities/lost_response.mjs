// Does the work, then closes the connection without an answer, every n-th time: {every: 2, what: "transaction", cut: "close"}.
// what: "transaction", "write" (any method but GET and HEAD) or "any"; cut "half" breaks off in the middle of the answer's body.
import { everyNth, isTransaction } from './common.mjs';

const matching = {
  transaction: isTransaction,
  write: (request) => !['GET', 'HEAD'].includes(request.method),
  any: () => true,
};

export default ({ every = 2, what = 'transaction', cut = 'close', ...more }) => {
  const isLost = everyNth({ every, ...more });
  return { answer: (request, answer) => (matching[what](request) && isLost() ? { ...answer, cut } : undefined) };
};
