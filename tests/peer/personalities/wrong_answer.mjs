// Does the work, and tells wrongly what became of it, every n-th time: {every: 2, kind: "order", what: "transaction"}.
// kind "count": of a transaction one entry is missing; "order": its entries stand in the order in which a server works (DELETE, POST, PUT, GET; FHIR R4, RESTful
// API, "Transaction Processing Rules") and not in that of the request; "ids": each says the place of the one after it, the body of a single write has another id than its address.
// what: as in lost_response.
import { everyNth, isTransaction } from './common.mjs';

const matching = {
  transaction: isTransaction,
  write: (request) => !['GET', 'HEAD'].includes(request.method),
};
const rank = { DELETE: 0, POST: 1, PUT: 2, GET: 3 };

const spoilBundle = {
  count: (entries) => entries.slice(0, -1),
  order: (entries, asked) => entries.map((entry, at) => [rank[asked[at]?.request?.method] ?? 4, at, entry]).sort((a, b) => a[0] - b[0] || a[1] - b[1]).map((one) => one[2]),
  ids: (entries) => entries.map((entry, at) => ({ ...entry, response: { ...entry.response, location: entries[(at + 1) % entries.length].response?.location }, resource: entries[(at + 1) % entries.length].resource })),
};

export default ({ every = 2, kind = 'order', what = 'transaction', ...more }) => {
  const isWrong = everyNth({ every, ...more });
  return {
    answer: (request, answer) => {
      if (!matching[what](request) || answer.status >= 300 || !answer.body || !isWrong()) return undefined;
      if (answer.body.resourceType === 'Bundle') return { ...answer, body: { ...answer.body, entry: spoilBundle[kind](answer.body.entry ?? [], request.body.entry ?? []) } };
      return { ...answer, body: { ...answer.body, id: `not-${answer.body.id}` } };
    },
  };
};
