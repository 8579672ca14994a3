// Answers 503 in bursts: of `every` requests the last `length` ones: {every: 10, length: 3, retryAfter: undefined, status: 503}.
import { problem } from './common.mjs';

export default ({ every = 10, length = 3, retryAfter, status = 503 }) => {
  let calls = 0;
  const headers = retryAfter === undefined ? {} : { 'retry-after': String(retryAfter) };
  return {
    refuse: () => {
      const place = calls % every;
      calls += 1;
      return place >= every - length ? problem(status, 'transient', 'Not available now', headers) : undefined;
    },
  };
};
