// Finds resources in files and folders: FHIR JSON (a resource or a Bundle) and NDJSON, recognised by name, else by content.
import { readdirSync, readFileSync, statSync } from 'node:fs';
import path from 'node:path';

const isFhirFile = (name) => /\.(json|ndjson)$/.test(name) && !/^(package(-lock)?|\.index)\.json$/.test(name);

/** Files named by the arguments; a folder stands for every .json and .ndjson file below it, in the order of their names. */
export function filesOf(argument) {
  if (!statSync(argument).isDirectory()) return [argument];
  return readdirSync(argument, { withFileTypes: true })
    .sort((a, b) => (a.name < b.name ? -1 : 1))
    .flatMap((entry) => {
      const full = path.join(argument, entry.name);
      if (entry.isDirectory()) return entry.name === 'node_modules' ? [] : filesOf(full);
      return isFhirFile(entry.name) ? [full] : [];
    });
}

function parseLine(line, number) {
  try {
    return { resource: JSON.parse(line), label: `line ${number}` };
  } catch (error) {
    return { fault: `line ${number} is not JSON: ${error.message}` };
  }
}

const parseLines = (text) => text.split('\n')
  .map((line, i) => [line.trim(), i + 1])
  .filter(([line]) => line)
  .map(([line, number]) => parseLine(line, number));

/** [{resource, label} or {fault}]; label says which line of an NDJSON file, undefined for a JSON file. */
export function resourcesIn(file) {
  const text = readFileSync(file, 'utf8');
  if (file.endsWith('.ndjson')) return parseLines(text);
  try {
    return [{ resource: JSON.parse(text) }];
  } catch (error) {
    const lines = parseLines(text);
    const isNdjson = lines.length > 1 && lines.every((line) => line.resource);
    return isNdjson ? lines : [{ fault: `not JSON: ${error.message}` }];
  }
}
