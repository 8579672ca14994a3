// Refuses transaction Bundles: {status: 501, batch: false, claims: false}. batch: also refuses batches; claims: says in its
// CapabilityStatement that it takes them all the same.
import { problem } from './common.mjs';

export default ({ status = 501, batch = false, claims = false }) => {
  const refused = batch ? ['transaction', 'batch'] : ['transaction'];
  return {
    refuse: ({ method, path, body }) => {
      if (method !== 'POST' || path !== '' || !refused.includes(body?.type)) return undefined;
      return problem(status, 'not-supported', `Bundle of type ${body.type} is not supported`);
    },
    describe: (statement) => {
      if (claims) return statement;
      const interaction = statement.rest[0].interaction.filter(({ code }) => !refused.includes(code));
      const { interaction: all, ...rest } = statement.rest[0];
      return { ...statement, rest: [interaction.length ? { ...rest, interaction } : rest] };
    },
  };
};
