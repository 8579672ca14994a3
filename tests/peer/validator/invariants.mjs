// FHIRPath invariants of the official definitions, evaluated by fhirpath.js with its R4 model, and the few that it cannot do.
import fhirpath from 'fhirpath';
import r4 from 'fhirpath/fhir-context/r4/index.js';
import r5 from 'fhirpath/fhir-context/r5/index.js';
import { isR5 } from '../definitions.mjs';
import { narrativeFaults } from './narrative.mjs';

// Done below by hand: fhirpath.js 3.18 cannot evaluate dom-3 ('as' on a collection) nor resolve() in ctm-1.
// ele-1 (no empty element) is part of the walk.
const byHand = new Set(['ele-1', 'dom-3', 'ctm-1']);

// Errata of 4.0.1, corrected the same way in R4B.
const corrected = { 'que-7': "operator = 'exists' implies (answer is boolean)" };

const htmlChecks = (inputs) => inputs.map((input) => narrativeFaults(String(input?.data ?? input)).length === 0);
const options = { userInvocationTable: { htmlChecks: { fn: htmlChecks, arity: { 0: [] } } }, traceFn: () => {} };

const compiled = new Map();
/** Constraints that could not be evaluated, key -> why. They count as kept. */
export const notEvaluated = new Map();

function compile(base, constraint) {
  const key = `${base}|${constraint.expression}`;
  if (!compiled.has(key)) {
    let evaluate;
    try {
      evaluate = fhirpath.compile({ base, expression: (isR5 ? undefined : corrected[constraint.key]) ?? constraint.expression }, isR5 ? r5 : r4, options);
    } catch (error) {
      notEvaluated.set(constraint.key, `compile: ${error.message ?? error}`);
    }
    compiled.set(key, evaluate);
  }
  return compiled.get(key);
}

/** Constraints of severity error that can be evaluated here. */
export const errorConstraints = (element) =>
  (element.constraint ?? []).filter((c) => c.severity === 'error' && c.expression && !byHand.has(c.key));

/** Does `value` (of the path `base`, e.g. "Task.input") keep the constraint? */
export function holds(base, constraint, value, environment) {
  const evaluate = compile(base, constraint);
  if (!evaluate) return true;
  try {
    const result = evaluate(value, environment);
    if (result instanceof Promise) {
      result.catch(() => {});
      notEvaluated.set(constraint.key, 'asynchronous');
      return true;
    }
    return result.every((item) => item !== false);
  } catch (error) {
    notEvaluated.set(constraint.key, String(error.message ?? error).slice(0, 100));
    return true;
  }
}

/** dom-3: each contained resource is referred to from the container, or refers to it. */
function unreferencedContained(resource) {
  const contained = Array.isArray(resource.contained) ? resource.contained : [];
  return contained.filter((item) => {
    if (typeof item?.id !== 'string') return false;
    const others = JSON.stringify({ ...resource, contained: contained.filter((other) => other !== item) });
    return !others.includes(`"#${item.id}"`) && !JSON.stringify(item).includes('"reference":"#"');
  });
}

/** ctm-1: onBehalfOf only where the member is a Practitioner. */
function wrongCareTeamParticipants(resource) {
  const participants = resource.resourceType === 'CareTeam' ? (resource.participant ?? []) : [];
  return participants
    .map((participant, index) => ({ participant, index }))
    .filter(({ participant }) => participant.onBehalfOf && participant.member?.reference)
    .filter(({ participant }) => !/^#|(^|\/)Practitioner\//.test(participant.member.reference));
}

/** Reports the hand-made checks as (path below the resource, text). */
export function checkByHand(resource, report) {
  for (const item of unreferencedContained(resource)) {
    report('.contained', `dom-3: contained ${item.resourceType}/${item.id} is not referenced`);
  }
  for (const { index } of wrongCareTeamParticipants(resource)) {
    report(`.participant[${index}]`, 'ctm-1: onBehalfOf needs a Practitioner member');
  }
}
