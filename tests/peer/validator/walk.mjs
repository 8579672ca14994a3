// Walks a resource along its StructureDefinition: cardinality, choice types, bindings, codes, units, dates, reference targets,
// invariants. Nested resources (contained, Bundle entries, Parameters) are visited as resources of their own.
import { createRequire } from 'node:module';
import { isR5 } from '../definitions.mjs';
import { checkByHand, errorConstraints, holds } from './invariants.mjs';
import { checkBundleReferences, wrongTarget } from './references.mjs';
import { checkSchema } from './schema.mjs';
import { checkTaskR5 } from './task_r5.mjs';
import { bindingFault, unknownCode } from './bindings.mjs';
import { isConcreteResource, isPrimitive, isQuantity, isResource, profileConstraints, typeOf } from './types.mjs';
import { narrativeFaults } from './narrative.mjs';

const ucum = createRequire(import.meta.url)('@lhncbc/ucum-lhc').UcumLhcUtils.getInstance();
const isMissing = (value) => value === undefined || value === null;
const isEmpty = (value) => value === '' || (typeof value === 'object' && Object.keys(value).length === 0);
const capitalised = (name) => name[0].toUpperCase() + name.slice(1);

function isCalendarDay(text) {
  const match = /^(\d{4})-(\d\d)-(\d\d)/.exec(text);
  if (!match) return true;
  const [year, month, day] = match.slice(1).map(Number);
  const date = new Date(Date.UTC(year, month - 1, day));
  return date.getUTCMonth() === month - 1 && date.getUTCDate() === day;
}

/** Members of `value` that belong to the element: [member name, type]; several only for a broken choice. */
function membersFor(element, name, value) {
  const present = (member) => value[member] !== undefined || value[`_${member}`] !== undefined;
  if (!name.endsWith('[x]')) return present(name) ? [[name, element.type?.[0]]] : [];
  const stem = name.slice(0, -3);
  return element.type.map((type) => [stem + capitalised(type.code), type]).filter(([member]) => present(member));
}

/** options: {known: Set of "Type/id" that exist outside, r5: also check R5-safety of Tasks}; report(layer, path, text). */
export class Walk {
  constructor(report, options = {}) {
    this.report = report;
    this.options = options;
  }

  /** Visits a resource; `root` is the outermost one that contained references are resolved in. */
  resource(resource, root, at) {
    const type = resource?.resourceType;
    if (!isConcreteResource(type)) return this.report('structure', at, `unknown resourceType ${type}`);
    const here = (layer) => (below, text) => this.report(layer, at + below, text);
    if (!isR5) checkSchema(resource, here('schema'));
    checkByHand(resource, here('invariant'));
    if (this.options.r5) checkTaskR5(resource, here('r5'));
    if (type === 'Bundle') checkBundleReferences(resource, at, this.options.known, (where, text) => this.report('bundle', where, text));
    const index = typeOf(type);
    const scope = { index, root, environment: { resource, rootResource: root, context: resource } };
    return this.element(scope, index.elements.get(type), type, resource, type, at);
  }

  /** Visits a complex value: its own constraints, then its children. `base` is the FHIRPath base, e.g. "Task.input". */
  element(scope, element, path, value, base, at) {
    this.constraints(element, base, value, scope, at);
    if (value === null || typeof value !== 'object') return;
    if (isR5) this.unknownMembers(scope, path, value, at);
    for (const child of scope.index.children.get(path) ?? []) this.child(scope, child, value, at);
  }

  /** Where there is no schema: members that no element has. */
  unknownMembers(scope, path, value, at) {
    const names = (scope.index.children.get(path) ?? []).flatMap((child) => membersFor(child, child.path.slice(child.path.lastIndexOf('.') + 1), value).map(([member]) => member));
    for (const member of Object.keys(value)) {
      if (member !== 'resourceType' && !names.includes(member.replace(/^_/, ''))) this.report('structure', `${at}.${member}`, 'no such element');
    }
  }

  constraints(element, base, value, scope, at) {
    for (const constraint of errorConstraints(element)) {
      if (!holds(base, constraint, value, scope.environment)) this.report('invariant', at, `${constraint.key}: ${constraint.human}`);
    }
  }

  child(scope, element, parent, at) {
    const name = element.path.slice(element.path.lastIndexOf('.') + 1);
    const members = membersFor(element, name, parent);
    if (members.length > 1) this.report('structure', `${at}.${name}`, `more than one of ${members.map(([member]) => member)}`);
    if (!members.length && element.min > 0) this.report('structure', `${at}.${name}`, 'required element is missing');
    for (const [member, type] of members) this.member(scope, element, type, parent, member, `${at}.${member}`);
  }

  /** A member with its parallel `_member`, single or as arrays. */
  member(scope, element, type, parent, member, at) {
    const value = parent[member];
    const extensions = parent[`_${member}`];
    const repeats = element.max !== '1' && element.base?.max !== '1';
    if (value !== undefined && repeats !== Array.isArray(value)) {
      return this.report('structure', at, repeats ? 'must be an array' : 'must not be an array');
    }
    if (!repeats) return this.value(scope, element, type, value, extensions, at);
    const list = value ?? extensions;
    if (!Array.isArray(list)) return this.report('structure', at, 'must be an array');
    if (list.length === 0) this.report('structure', at, 'empty array');
    if (list.length < element.min) this.report('structure', at, `at least ${element.min}`);
    return list.forEach((_, i) => this.value(scope, element, type, value?.[i], extensions?.[i], `${at}[${i}]`));
  }

  value(scope, element, type, value, extension, at) {
    if (isMissing(value)) return this.missing(element, extension, at);
    if (isEmpty(value)) return this.report('structure', at, 'ele-1: empty value');
    if (element.contentReference) {
      const path = element.contentReference.slice(1);
      const shared = { ...scope.index.elements.get(path), constraint: element.constraint };
      return this.element(scope, shared, path, value, path, at);
    }
    const code = type?.code?.startsWith('http://hl7.org/fhirpath/') ? 'string' : (type?.code ?? '');
    if (code === 'Resource' || isResource(code)) {
      const standsAlone = /^(Bundle\.entry|Parameters\.)/.test(element.path);
      return this.resource(value, standsAlone ? value : scope.root, `${at}${value.resourceType ? `<${value.resourceType}>` : ''}`);
    }
    if (element.fixedUri && value !== element.fixedUri) this.report('structure', at, `must be ${element.fixedUri}`);
    const fault = bindingFault(element, code, value);
    if (fault) this.report('binding', at, fault);
    if (code === 'xhtml') return this.narrative(value, at);
    if (isPrimitive(code)) return this.primitive(scope, element, code, value, at);
    return this.complex(scope, element, type, code, value, at);
  }

  missing(element, extension, at) {
    if (!extension) this.report('structure', at, 'null or missing value without extension');
    else if (element.min > 0 && !extension.extension) this.report('structure', at, 'value missing');
  }

  narrative(value, at) {
    for (const fault of narrativeFaults(String(value))) this.report('narrative', at, fault);
  }

  primitive(scope, element, code, value, at) {
    const isDate = ['date', 'dateTime', 'instant'].includes(code);
    if (isDate && typeof value === 'string' && !isCalendarDay(value)) this.report('structure', at, `no such calendar day: ${value}`);
    if (isR5) this.lexical(code, value, at);
    this.constraints(element, code, value, scope, at);
  }

  /** Where there is no schema: the form that the definition of a primitive type gives. */
  lexical(code, value, at) {
    const kinds = { boolean: 'boolean', integer: 'number', unsignedInt: 'number', positiveInt: 'number', decimal: 'number' };
    if (typeof value !== (kinds[code] ?? 'string')) { this.report('structure', at, `must be a ${kinds[code] ?? 'string'}`); return; }
    if (kinds[code]) return;  // JSON's own numbers; the expression that R5 gives for decimal has a brace too many
    const regex = typeOf(code)?.elements.get(`${code}.value`)?.type?.[0]?.extension?.find((one) => one.url.endsWith('/regex'))?.valueString;
    if (regex && !new RegExp(`^(${regex})$`, 'su').test(String(value))) this.report('structure', at, `not the form of ${code}: ${String(value).slice(0, 60)}`);
  }

  complex(scope, element, type, code, value, at) {
    const index = typeOf(code);
    if (!index) return;
    if (typeof value !== 'object' || Array.isArray(value)) { this.report('structure', at, 'must be an object'); return; }
    const isBackbone = code === 'BackboneElement' || (code === 'Element' && scope.index.children.has(element.path));
    if (isBackbone) { this.element(scope, element, element.path, value, element.path, at); return; }
    this.typed(type, code, value, at);
    const root = index.elements.get(code);
    const all = [...(root.constraint ?? []), ...(element.constraint ?? []), ...profileConstraints(type)];
    const constraint = [...new Map(all.map((item) => [item.key, item])).values()];
    this.element({ ...scope, index }, { ...root, constraint }, code, value, code, at);
  }

  /** Checks that belong to one data type. */
  typed(type, code, value, at) {
    const target = code === 'Reference' && wrongTarget(type, value);
    if (target) this.report('reference', at, target);
    const unknown = code === 'Coding' && unknownCode(value);
    if (unknown) this.report('code', at, unknown);
    const isUcum = isQuantity(code) && value.system === 'http://unitsofmeasure.org' && typeof value.code === 'string' && value.code;
    if (isUcum && ucum.validateUnitString(value.code).status !== 'valid') this.report('ucum', at, `not a UCUM unit: ${value.code}`);
  }
}
