// Validates every write against the whole of R4: bindings, invariants, units, reference targets, narrative (../validate.mjs).
export default async () => {
  const { validate } = await import('../validate.mjs'); // loaded only here: it costs a second and 200 MB
  return { judge: (resource) => validate(resource, { r5: false }) };
};
