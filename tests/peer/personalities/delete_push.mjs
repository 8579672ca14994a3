// Tells subscribers about deletions with DELETE [endpoint]/[type]/[id]. R4 does not ask for it and most servers do not.
export default () => ({ flags: ['notifiesDeletes'] });
