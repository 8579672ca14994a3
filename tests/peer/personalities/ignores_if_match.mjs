// Overlooks ifMatch inside transactions and batches, so that a stale writer overwrites: the lost update. `everywhere`: the header of single writes too.
export default ({ everywhere = false } = {}) => ({
  alter: ({ body, headers }) => {
    if (everywhere) delete headers['if-match'];
    if (body.resourceType !== 'Bundle') return;
    for (const entry of body.entry ?? []) if (entry.request) delete entry.request.ifMatch;
  },
});
