// The official R4 example files (package hl7.fhir.r4.examples, CC0) as input for the daemon. See `usage`.
import { copyFileSync, createWriteStream, mkdirSync, readdirSync, readFileSync, statSync } from 'node:fs';
import path from 'node:path';
import { pathToFileURL } from 'node:url';
import { parseArgs } from 'node:util';
import { exampleFolder } from './definitions.mjs';

const usage = `usage: node examples.mjs [--types Procedure,Observation,...] [--clinical] [--max-bytes N] [--ndjson] [--out DIR]
  Without --out: prints the paths of the example files, or with --ndjson the resources, one a line.
  --out DIR     copies the files into DIR; with --ndjson writes DIR/examples.ndjson instead. Says how many on standard error.
  --types       only these resource types
  --clinical    without the definitional types (SearchParameter, ValueSet, CodeSystem, StructureDefinition, ...)
  --max-bytes   only files up to this size`;

const definitional = new Set(`CodeSystem CompartmentDefinition ConceptMap ImplementationGuide NamingSystem OperationDefinition
  SearchParameter StructureDefinition StructureMap TerminologyCapabilities ValueSet`.split(/\s+/));
const typeOf = (name) => name.slice(0, name.indexOf('-'));

/** Names of the example files in order. types: list or undefined for all; clinical: leave definitional types out. */
export function exampleNames({ types, clinical = false, maxBytes = Infinity } = {}) {
  return readdirSync(exampleFolder)
    .filter((name) => /^[A-Z][A-Za-z]+-.*\.json$/.test(name))
    .filter((name) => (!types || types.includes(typeOf(name))) && !(clinical && definitional.has(typeOf(name))))
    .filter((name) => maxBytes === Infinity || statSync(path.join(exampleFolder, name)).size <= maxBytes)
    .sort();
}

/** The file as one line. Parsing and printing would change digits; no JSON string holds a line break, so joining lines is safe. */
export const lineOf = (name) => `${readFileSync(path.join(exampleFolder, name), 'utf8').trim().replace(/\s*\r?\n\s*/g, ' ')}\n`;

async function writeLines(names, file) {
  const stream = createWriteStream(file);
  for (const name of names) stream.write(lineOf(name));
  await new Promise((resolve, reject) => { stream.on('error', reject).end(resolve); });
}

function settings() {
  const { values } = parseArgs({ options: {
    types: { type: 'string' }, clinical: { type: 'boolean' }, 'max-bytes': { type: 'string' }, ndjson: { type: 'boolean' }, out: { type: 'string' },
  } });
  return { ...values, types: values.types?.split(','), maxBytes: values['max-bytes'] ? Number(values['max-bytes']) : undefined };
}

async function main() {
  const { ndjson, out, ...filter } = settings();
  const names = exampleNames(filter);
  if (!out) {
    process.stdout.on('error', () => process.exit()); // the reader has had enough
    for (const name of names) process.stdout.write(ndjson ? lineOf(name) : `${path.join(exampleFolder, name)}\n`);
    return;
  }
  mkdirSync(out, { recursive: true });
  if (ndjson) await writeLines(names, path.join(out, 'examples.ndjson'));
  else for (const name of names) copyFileSync(path.join(exampleFolder, name), path.join(out, name));
  console.error(`${names.length} official R4 examples in ${out}`);
}

if (process.argv[1] && import.meta.url === pathToFileURL(process.argv[1]).href) {
  main().catch((error) => {
    console.error(`${error.message}\n${usage}`);
    process.exitCode = 2;
  });
}
