// Keeps resources of whatever version: nothing is validated, as R5 in a server of R4 would be refused.
export default () => ({ flags: ['anyVersion'] });
