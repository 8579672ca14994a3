// Refuses a transaction whose attachment.url is a urn:uuid, which some servers do not resolve: {status: 400}.
import { problem } from './common.mjs';

const carriesUrn = (node) => Object.entries(node ?? {}).some(([name, value]) =>
  (name === 'attachment' && /^urn:uuid:/.test(value.url ?? '')) || (typeof value === 'object' && carriesUrn(value)));

export default ({ status = 400 }) => ({
  refuse: ({ body }) => (carriesUrn(body?.entry) ? problem(status, 'not-supported', 'urn:uuid in attachment.url') : undefined),
});
