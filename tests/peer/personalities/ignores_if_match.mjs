// Overlooks ifMatch inside transactions and batches, so that a stale writer overwrites: the lost update.
export default () => ({
  alter: ({ body }) => {
    if (body.resourceType !== 'Bundle') return;
    for (const entry of body.entry ?? []) if (entry.request) delete entry.request.ifMatch;
  },
});
