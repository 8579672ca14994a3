// Does not let clients create certain types: {types: ["Task", "CarePlan"], status: 403, updates: false, claims: false}.
// updates: no updates either; claims: says in its CapabilityStatement that it does.
import { outcome } from '../server/outcomes.mjs';

export default ({ types = ['Task', 'CarePlan'], status = 403, updates = false, claims = false }) => {
  const refused = updates ? ['create', 'create-with-id', 'update'] : ['create', 'create-with-id'];
  const strip = (resource) => {
    if (!types.includes(resource.type)) return resource;
    const interaction = resource.interaction.filter(({ code }) => code !== 'create' && !(updates && code === 'update'));
    return { ...resource, interaction, updateCreate: false, conditionalCreate: false };
  };
  return {
    refuseWrite: ({ interaction, type }) => {
      if (!types.includes(type) || !refused.includes(interaction)) return undefined;
      const verb = interaction === 'update' ? 'update' : 'create';
      return outcome(status, status === 403 ? 'forbidden' : 'not-supported', `Clients must not ${verb} ${type}`);
    },
    describe: (statement) =>
      (claims ? statement : { ...statement, rest: [{ ...statement.rest[0], resource: statement.rest[0].resource.map(strip) }] }),
  };
};
