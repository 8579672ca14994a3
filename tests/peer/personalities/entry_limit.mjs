// Refuses Bundles with more than n entries, or larger than n bytes: {entries: 5, bytes: undefined, status: 413}.
import { problem } from './common.mjs';

export default ({ entries = 5, bytes = Infinity, status = 413 }) => ({
  refuse: ({ body, raw }) => {
    if (raw.length > bytes) return problem(status, 'too-long', `More than ${bytes} bytes`);
    const count = body?.resourceType === 'Bundle' ? (body.entry?.length ?? 0) : 0;
    return count > entries ? problem(status, 'too-costly', `More than ${entries} entries`) : undefined;
  },
});
