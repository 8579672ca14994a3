// Narrative: well-formed XHTML with the elements and attributes that FHIR allows.
// Source: FHIR R4 narrative.html, rules txt-1 and txt-2 (HTML 4.0 chapters 7 to 11 without 9.4, chapter 15, a, img, style
// inside the element); element and attribute lists as HL7's published validator applies them.
import { SaxesParser } from 'saxes';

const words = (text) => text.trim().split(/\s+/);

const elements = new Set(words(`
  p br div h1 h2 h3 h4 h5 h6 a span b em i strong small big tt dfn q var abbr acronym cite blockquote hr address bdo kbd sub sup
  ul ol li dl dt dd pre table caption colgroup col thead tr tfoot tbody th td code samp img map area`));

const anywhere = new Set(words(`
  title style class id lang xml:lang dir accesskey tabindex span width align valign char charoff abbr axis headers scope
  rowspan colspan xmlns`));

const attributesOf = {
  a: words('href name charset type hreflang rel rev shape coords'),
  area: words('shape coords href nohref alt'),
  blockquote: ['cite'],
  img: words('src alt longdesc height usemap ismap border'),
  map: ['name'],
  q: ['cite'],
  table: words('summary border frame rules cellspacing cellpadding'),
  td: ['nowrap'],
  pre: ['xml:space'],
  ol: words('type start'),
};

const xhtmlNamespace = 'http://www.w3.org/1999/xhtml';
const isActive = (value) => /^\s*(javascript|vbscript):/i.test(value);

function tagFaults(tag, depth) {
  const faults = [];
  if (depth === 0 && tag.name !== 'div') faults.push(`the outermost element is <${tag.name}>, not <div>`);
  if (depth === 0 && tag.attributes.xmlns !== xhtmlNamespace) faults.push('the div is not in the XHTML namespace');
  if (!elements.has(tag.name)) faults.push(`element <${tag.name}> is not allowed`);
  for (const [name, value] of Object.entries(tag.attributes)) {
    const allowed = anywhere.has(name) || name.startsWith('xmlns:') || attributesOf[tag.name]?.includes(name);
    if (!allowed) faults.push(`attribute ${name} is not allowed on <${tag.name}>`);
    else if (isActive(value)) faults.push(`attribute ${name} of <${tag.name}> carries script`);
  }
  return faults;
}

/** Faults of a narrative's div, empty when it is good. Only the first fault against well-formedness is given. */
export function narrativeFaults(xhtml) {
  const faults = [];
  let depth = 0;
  let seen = false;
  const parser = new SaxesParser({ fragment: false });
  parser.on('error', (error) => { throw error; });
  parser.on('doctype', () => faults.push('a document type declaration is not allowed'));
  parser.on('processinginstruction', () => faults.push('a processing instruction is not allowed'));
  parser.on('opentag', (tag) => {
    faults.push(...tagFaults(tag, depth));
    if (tag.name === 'img') seen = true;
    depth += 1;
  });
  parser.on('closetag', () => { depth -= 1; });
  parser.on('text', (text) => { if (text.trim()) seen = true; });
  try {
    parser.write(xhtml).close();
  } catch (error) {
    return [...faults, `not well-formed XHTML: ${error.message}`];
  }
  return seen ? faults : [...faults, 'txt-2: no text and no picture'];
}
