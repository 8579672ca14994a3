// Leaves a Subscription in status "requested" for ever.
export default () => ({ flags: ['leavesRequested'] });
