// Keeps the result of a search for n seconds and repeats it, unless the request says Cache-Control: no-cache: {seconds: 60}.
import { isSearch } from './common.mjs';

export default ({ seconds = 60 }) => {
  const kept = new Map(); // what was asked -> {until, answer}
  const keyOf = ({ method, url, raw }) => `${method} ${url} ${raw}`;
  const isFresh = (request) => /no-cache|no-store/.test(request.headers['cache-control'] ?? '');
  return {
    refuse: (request) => {
      const hit = isSearch(request) && !isFresh(request) && kept.get(keyOf(request));
      return hit && performance.now() < hit.until ? { ...hit.answer } : undefined;
    },
    answer: (request, answer) => {
      const isWorthKeeping = isSearch(request) && answer.status === 200;
      if (isWorthKeeping) kept.set(keyOf(request), { until: performance.now() + seconds * 1000, answer: structuredClone(answer) });
    },
  };
};
