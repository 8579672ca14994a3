// Sets a Subscription to status "error" when a notification could not be delivered after the last try.
export default () => ({
  undelivered: ({ subscription, resource }, repository) => {
    const current = repository.current('Subscription', subscription.id);
    if (current?.status !== 'active') return;
    const error = `gave up on ${resource.resourceType}/${resource.id}`;
    repository.serial(() => repository.createResource({ ...current, status: 'error', error }));
  },
});
