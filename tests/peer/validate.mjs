// Offline FHIR R4 (4.0.1) validator, built from official definitions and third-party engines only. As a module: validate().
// On the command line: see `usage` below.
import { readFileSync } from 'node:fs';
import { pathToFileURL } from 'node:url';
import { filesOf, resourcesIn } from './validator/input.mjs';
import { notEvaluated } from './validator/invariants.mjs';
import { checkPublished, loadPublished } from './validator/published.mjs';
import { checkProfiles, checkSecondOpinion } from './validator/second_opinion.mjs';
import { Walk } from './validator/walk.mjs';

const usage = `usage: node validate.mjs [options] FILE-or-FOLDER...
  FILE is FHIR JSON (a resource or a Bundle) or NDJSON; a FOLDER stands for every .json and .ndjson below it.
  Prints the faults of each file and exits 1 when there are any, 2 on wrong usage.
  --json            one JSON object a file instead of text
  --quiet           only files with faults
  --profile FILE    also check against this StructureDefinition (with snapshot); may be repeated
  --definitions FOLDER  also check against the profiles, extensions and codes published there what carries a tag of its CodeSystem/writer
  --known FILE      local references of transactions must resolve within the Bundle or to a resource in FILE or FOLDER
  --known Type/id   (or to this one); may be repeated
  --r4-only         do not ask that a Task with restriction is also valid as R5`;

/** Distinct issues in the order found. The second opinion (layer medplum) counts only where nothing else was found. */
function distinct(issues) {
  const seen = new Set();
  return issues.filter(({ layer, where, text }) => {
    const key = `${where}|${text}`;
    if (seen.has(key) || (layer === 'medplum' && seen.has(where))) return false;
    seen.add(key).add(where);
    return true;
  });
}

/**
 * Faults of a resource (nested ones included) as [{layer, where, text}], empty when it is valid. Never throws.
 * options: profiles (StructureDefinitions with snapshot), published (see published.mjs), known (Set of "Type/id", see references.mjs), r5 (default true).
 */
export function validate(resource, options = {}) {
  const issues = [];
  const report = (layer, where, text) => issues.push({ layer, where, text });
  try {
    new Walk(report, { r5: true, ...options }).resource(resource, resource, resource?.resourceType ?? '?');
  } catch (error) {
    report('structure', resource?.resourceType ?? '?', `malformed beyond walking: ${String(error).slice(0, 120)}`);
  }
  checkSecondOpinion(resource, report);
  checkProfiles(resource, options.profiles ?? [], report);
  if (options.published) checkPublished(resource, options.published, report);
  return distinct(issues);
}

/** Faults of everything in a file; the path starts with the line where the file has several resources. */
export function validateFile(file, options = {}) {
  return resourcesIn(file).flatMap(({ resource, label, fault }) => {
    if (fault) return [{ layer: 'json', where: file, text: fault }];
    const prefix = label ? `${label}: ` : '';
    return validate(resource, options).map((issue) => ({ ...issue, where: prefix + issue.where }));
  });
}

function knownResources(argument) {
  if (/^[A-Z][A-Za-z]+\/[A-Za-z0-9.-]{1,64}$/.test(argument)) return [argument];
  return filesOf(argument).flatMap(resourcesIn).filter(({ resource }) => resource)
    .flatMap(({ resource }) => (resource.resourceType === 'Bundle' ? resource.entry?.map((entry) => entry.resource) : [resource]))
    .filter((resource) => resource?.id).map((resource) => `${resource.resourceType}/${resource.id}`);
}

function parseArguments(args) {
  const parsed = { json: false, quiet: false, files: [], options: { profiles: [] } };
  const take = (name) => args.shift() ?? (() => { throw new Error(`${name} needs a value`); })();
  while (args.length) {
    const arg = args.shift();
    if (arg === '--json') parsed.json = true;
    else if (arg === '--quiet') parsed.quiet = true;
    else if (arg === '--r4-only') parsed.options.r5 = false;
    else if (arg === '--profile') parsed.options.profiles.push(JSON.parse(readFileSync(take(arg), 'utf8')));
    else if (arg === '--definitions') parsed.options.published = loadPublished(take(arg));
    else if (arg === '--known') parsed.options.known = new Set([...(parsed.options.known ?? []), ...knownResources(take(arg))]);
    else if (arg.startsWith('--')) throw new Error(`unknown option ${arg}`);
    else parsed.files.push(...filesOf(arg));
  }
  if (!parsed.files.length) throw new Error('no file given');
  return parsed;
}

function describe(file, issues, { json, quiet }) {
  if (json) return [JSON.stringify({ file, issues })];
  const verdict = issues.length || !quiet ? [`${issues.length ? 'BAD ' : 'ok  '} ${file}`] : [];
  return [...verdict, ...issues.map((issue) => `     [${issue.layer}] ${issue.where}: ${issue.text}`)];
}

/** The command line; returns the exit code. */
export function main(args, print = console.log) {
  let parsed;
  try {
    parsed = parseArguments([...args]);
  } catch (error) {
    print(`${error.message}\n${usage}`);
    return 2;
  }
  let bad = 0;
  for (const file of parsed.files) {
    const issues = validateFile(file, parsed.options);
    if (issues.length) bad += 1;
    for (const line of describe(file, issues, parsed)) print(line);
  }
  if (!parsed.json) print(`${parsed.files.length - bad} files without faults, ${bad} with faults`);
  if (process.env.DEBUG && notEvaluated.size) print(`constraints not evaluated: ${JSON.stringify(Object.fromEntries(notEvaluated))}`);
  return bad ? 1 : 0;
}

if (process.argv[1] && import.meta.url === pathToFileURL(process.argv[1]).href) process.exitCode = main(process.argv.slice(2));
