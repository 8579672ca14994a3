// Judges a resource by the differential of a profile: cardinality, slices told apart by a fixed value, fixed and pattern values, types and reference targets,
// required bindings, constraints. What the profile does not speak of is the base definition's business (walk.mjs). Of discriminators only value on a child.
import { bindingFault } from './bindings.mjs';
import { errorConstraints, holds } from './invariants.mjs';

const lastOf = (id) => id.slice(id.lastIndexOf('.') + 1);
const parentOf = (id) => id.slice(0, id.lastIndexOf('.'));
const capitalised = (name) => name[0].toUpperCase() + name.slice(1);

/** The elements as a tree; what stands between two of them and is not named itself gets a node that asks nothing. */
export function treeOf(profile) {
  const nodes = new Map();
  const node = (id) => {
    if (!nodes.has(id)) {
      nodes.set(id, { element: { id, path: id.replace(/:[^.]+/g, '') }, children: [] });
      if (id.includes('.')) node(parentOf(id)).children.push(nodes.get(id));
    }
    return nodes.get(id);
  };
  for (const element of profile.differential.element) node(element.id).element = element;
  return { name: profile.name, url: profile.url, type: profile.type, root: node(profile.type) };
}

/** [value, member name] of an element below `parent`. */
function membersOf(parent, name) {
  if (!name.endsWith('[x]')) return [parent?.[name] ?? []].flat().map((value) => [value, name]);
  const stem = name.slice(0, -3);
  return Object.entries(parent ?? {}).filter(([member]) => member.startsWith(stem) && /^[A-Z]/.test(member.slice(stem.length))).map(([member, value]) => [value, member]);
}

const sameParts = (pattern, value) => pattern === value || (typeof pattern === 'object' && Object.entries(pattern).every(([name, part]) => sameParts(part, value?.[name])));
const wantedOf = (element) => Object.entries(element).find(([name]) => /^(fixed|pattern)[A-Z]/.test(name));
const isOfSlice = (slice, value) => slice.children.every((child) => {
  const wanted = wantedOf(child.element);
  return !wanted || !wanted[0].startsWith('fixedUri') || sameParts(wanted[1], value?.[lastOf(child.element.id)]);
});

function targetFault(element, value) {
  const targets = element.type?.find((type) => type.code === 'Reference')?.targetProfile?.map((url) => url.slice(url.lastIndexOf('/') + 1));
  if (!targets) return undefined;
  const named = /(?:^|\/)([A-Z][A-Za-z]+)\/[^/]+(?:\/_history\/[^/]+)?$/.exec(value?.reference ?? '')?.[1];
  return [named, value?.type].some((type) => type && !targets.includes(type)) ? `must be a reference to ${targets}` : undefined;
}

function valueFaults({ element }, value, member, environment) {
  const faults = [];
  const wanted = wantedOf(element);
  if (wanted && !sameParts(wanted[1], value)) faults.push(`must be ${JSON.stringify(wanted[1])}`);
  const name = lastOf(element.path);
  if (name.endsWith('[x]') && element.type && !element.type.some((type) => member === name.slice(0, -3) + capitalised(type.code))) faults.push(`must not be ${member}`);
  const target = targetFault(element, value);
  if (target) faults.push(target);
  const unbound = element.binding && bindingFault(element, typeof value === 'string' ? 'code' : 'CodeableConcept', value);
  if (unbound) faults.push(unbound);
  for (const one of errorConstraints(element)) if (!holds(element.path, one, value, environment)) faults.push(`${one.key}: ${one.human}`);
  return faults;
}

function visit(node, value, member, at, environment, faults) {
  for (const text of valueFaults(node, value, member, environment)) faults.push([at, text]);
  for (const child of node.children) {
    const [name, slice] = lastOf(child.element.id).split(':');
    const members = membersOf(value, name).filter(([one]) => !slice || isOfSlice(child, one));
    const { min = 0, max = '*' } = child.element;
    const what = `${at}.${name}${slice ? `:${slice}` : ''}`;
    if (members.length < min || (max !== '*' && members.length > Number(max))) faults.push([what, `${min}..${max} wanted, ${members.length} there`]);
    for (const [one, itsName] of members) visit(child, one, itsName, what, environment, faults);
  }
}

/** [[where, what is wrong]], empty where the resource keeps the profile. */
export function faultsAgainst(tree, resource) {
  const faults = [];
  visit(tree.root, resource, tree.type, tree.type, { resource, rootResource: resource, context: resource }, faults);
  return faults.map(([where, text]) => [where, `${tree.name}: ${text}`]);
}
