// What somebody publishes in a folder of definitions, and whether a resource that they wrote keeps it: profiles (the one of its type that fits best), extensions
// and codes below the folder's canonical base.
import { faultsAgainst, treeOf } from './differential.mjs';
import { filesOf, resourcesIn } from './input.mjs';
import { register } from './terminology.mjs';

/** {base, profiles by type, extensions by url, systems}; registers its CodeSystems and ValueSets. */
export function loadPublished(folder) {
  const all = filesOf(folder).flatMap(resourcesIn).map(({ resource }) => resource).filter(Boolean);
  const definitions = all.filter((one) => one.resourceType === 'StructureDefinition');
  for (const one of all) if (['CodeSystem', 'ValueSet'].includes(one.resourceType)) register(one);
  const base = definitions[0].url.slice(0, definitions[0].url.indexOf('/StructureDefinition/'));
  const profiles = new Map();
  for (const one of definitions.filter((d) => d.type !== 'Extension')) profiles.set(one.type, [...(profiles.get(one.type) ?? []), treeOf(one)]);
  const extensions = new Map(definitions.filter((d) => d.type === 'Extension').map((d) => [d.url, d]));
  const systems = new Set(all.filter((one) => one.resourceType === 'CodeSystem').map((one) => one.url));
  return { base, profiles, extensions, systems };
}

function checkExtension(extension, parent, at, { extensions, base }, report) {
  if (typeof extension?.url !== 'string' || !extension.url.startsWith(`${base}/`)) return;
  const definition = extensions.get(extension.url);
  if (!definition) return report('published', at, `the extension ${extension.url} is not defined`);
  const value = definition.differential.element.find((element) => element.path === 'Extension.value[x]');
  const members = Object.keys(extension).filter((name) => name.startsWith('value'));
  const allowed = value.type.map((type) => `value${type.code[0].toUpperCase()}${type.code.slice(1)}`);
  if (members.length !== 1 || !allowed.includes(members[0])) report('published', at, `${extension.url} needs ${allowed}`);
  const contexts = definition.context.map((context) => context.expression);
  if (parent.resourceType && !contexts.includes(parent.resourceType)) report('published', at, `${extension.url} does not belong on ${parent.resourceType}`);
}

function walk(value, at, published, report) {
  if (Array.isArray(value)) { value.forEach((one, i) => walk(one, `${at}[${i}]`, published, report)); return; }
  if (value === null || typeof value !== 'object') return;
  const isOurs = typeof value.system === 'string' && value.system.startsWith(`${published.base}/CodeSystem/`);
  if (isOurs && !published.systems.has(value.system)) report('published', at, `the code system ${value.system} is not defined`);
  for (const one of [value.extension ?? [], value.modifierExtension ?? []].flat()) checkExtension(one, value, `${at}.extension`, published, report);
  for (const [name, below] of Object.entries(value)) walk(below, `${at}.${name}`, published, report);
}

/** Was it written under one of these definitions? Its tag says so. */
const isTheirs = (resource, base) => (resource.meta?.tag ?? []).some((tag) => tag.system === `${base}/CodeSystem/writer`);

/** Reports what breaks the published definitions; of a Bundle, in each of its entries. */
export function checkPublished(resource, published, report) {
  if (resource?.resourceType === 'Bundle') {
    (resource.entry ?? []).forEach((entry, i) => entry.resource && checkPublished(entry.resource, published, (layer, where, text) => report(layer, `Bundle.entry[${i}].${where}`, text)));
    return;
  }
  walk(resource, resource?.resourceType ?? '?', published, report);
  if (!isTheirs(resource, published.base)) return;
  const tried = (published.profiles.get(resource.resourceType) ?? []).map((profile) => faultsAgainst(profile, resource));
  if (!tried.length) { report('published', resource.resourceType, 'there is no profile for what was written'); return; }
  const best = tried.reduce((a, b) => (b.length < a.length ? b : a));
  for (const [where, text] of best) report('published', where, text);
}
