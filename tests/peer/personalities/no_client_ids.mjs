// Refuses an update that would create: ids are the server's alone: {status: 405}. Source: FHIR R4 http.html, "Rejecting Updates".
import { outcome } from '../server/outcomes.mjs';

export default ({ status = 405 }) => ({
  refuseWrite: ({ interaction, type, id }) => {
    if (interaction !== 'create-with-id') return undefined;
    return outcome(status, 'not-supported', `${type}/${id} does not exist and clients must not choose ids`);
  },
  describe: (statement) => {
    const resource = statement.rest[0].resource.map((entry) => ({ ...entry, updateCreate: false }));
    return { ...statement, rest: [{ ...statement.rest[0], resource }] };
  },
});
