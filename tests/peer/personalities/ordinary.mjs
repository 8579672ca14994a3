// What an ordinary record does that test servers do not: it writes its times with an offset, and does not answer for every type.
// {"offset": 60, "answers": {"DeviceUseStatement": 404, "Consent": 403, "QuestionnaireResponse": 401}}  offset: minutes
import { problem } from './common.mjs';

const withOffset = (instant, minutes) => {
  const local = new Date(Date.parse(instant) + minutes * 60_000).toISOString().replace('Z', '');
  const part = (n) => String(n).padStart(2, '0');
  return `${local}${minutes < 0 ? '-' : '+'}${part(Math.floor(Math.abs(minutes) / 60))}:${part(Math.abs(minutes) % 60)}`;
};

const rewrite = (value, minutes) => {
  if (Array.isArray(value)) return value.map((one) => rewrite(one, minutes));
  if (!value || typeof value !== 'object') return value;
  const made = Object.fromEntries(Object.entries(value).map(([key, one]) => [key, rewrite(one, minutes)]));
  if (made.meta?.lastUpdated) made.meta = { ...made.meta, lastUpdated: withOffset(made.meta.lastUpdated, minutes) };
  return made;
};

export default ({ offset = 60, answers = {} } = {}) => ({
  refuse: (request) => {
    const status = request.method === 'GET' && answers[request.path.split('/')[0]];
    // '+' in a query is a blank: an instant with an offset that was not encoded is none.
    if (/ /.test(new URLSearchParams(request.query).get('_lastUpdated') ?? '')) return problem(400, 'invalid', '_lastUpdated is no instant');
    if (!status) return undefined;
    return problem(status, { 401: 'login', 403: 'forbidden' }[status] ?? 'not-supported', `${request.path} is not for you`);
  },
  answer: (request, answer) => (answer.body?.resourceType ? { ...answer, body: rewrite(answer.body, offset) } : undefined),
});
