// Required bindings, and codes in HL7 code systems that are complete here.
import { codesOf, expand, isIn } from './terminology.mjs';

const mimeTypes = 'http://hl7.org/fhir/ValueSet/mimetypes';
const isMimeType = (text) => /^[\w.+-]+\/[\w.+*-]+( *;.*)?$/.test(text);
// The comment on CapabilityStatement.format allows these short names besides MIME types; TestScript uses them likewise.
const isShortFormat = (path, text) => /^(CapabilityStatement|TestScript)\./.test(path) && ['xml', 'json', 'ttl'].includes(text);

/** Value sets that cannot be expanded: only MIME types have a form that can be checked. */
function formFault(element, url, value) {
  if (url !== mimeTypes || isMimeType(value) || isShortFormat(element.path, value)) return undefined;
  return `not a MIME type: ${value}`;
}

/** Fault text where `value` breaks the element's required binding; undefined when kept or not decidable offline. */
export function bindingFault(element, type, value) {
  if (element.binding?.strength !== 'required' || !element.binding.valueSet) return undefined;
  const url = element.binding.valueSet.split('|')[0];
  const expansion = expand(url);
  if (!expansion) return formFault(element, url, value);
  switch (type) {
    case 'code':
    case 'string':
    case 'uri':
      return isIn(expansion, undefined, value) ? undefined : `'${value}' is not in required value set ${url}`;
    case 'Coding':
    case 'Quantity':
      return value.code === undefined || isIn(expansion, value.system, value.code)
        ? undefined : `${value.system}|${value.code} is not in required value set ${url}`;
    case 'CodeableConcept':
      return value.coding?.some((coding) => isIn(expansion, coding.system, coding.code))
        ? undefined : `no coding is in required value set ${url}`;
    default:
      return undefined;
  }
}

/** Fault text where a Coding's code does not exist in its (complete, known) code system. */
export function unknownCode(coding) {
  if (typeof coding.code !== 'string' || typeof coding.system !== 'string') return undefined;
  const codes = codesOf(coding.system);
  return codes && !codes.has(coding.code) ? `code '${coding.code}' is not in code system ${coding.system}` : undefined;
}
