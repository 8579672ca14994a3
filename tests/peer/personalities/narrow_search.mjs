// Searches as a large hospital record allows them: 400 for _lastUpdated, for a search without its patient (an Encounter by location, an Appointment by
// actor and a Patient by identifier aside) and for a type that needs a category without one; 404 for the history of a type; 406 with an empty body for types that cannot be searched:
// {"needsCategory": ["Observation", "Condition"], "notAcceptable": ["List", "Device", "Specimen"], "hides": ["Type/id"]}
// finds: "nothing" takes a search by _lastUpdated and finds nothing. hides: never among the results, though they can be read.
import { isSearch, problem } from './common.mjs';

const scoped = { Encounter: 'location', Appointment: 'actor', Patient: 'identifier' };

export default ({ needsCategory = ['Observation', 'Condition'], notAcceptable = ['List', 'Device', 'Specimen'], hides = [], finds = '' } = {}) => ({
  refuse: (request) => {
    if (/^[A-Z][A-Za-z]+\/_history$/.test(request.path) && finds !== 'nothing') return problem(404, 'not-supported', 'no history of a whole type');
    if (!isSearch(request) || request.method !== 'GET') return undefined;
    const type = request.path;
    const has = (name) => new URLSearchParams(request.query).has(name);
    if (notAcceptable.includes(type)) return { status: 406, bytes: Buffer.alloc(0) };
    if (has('_lastUpdated') && finds === 'nothing' && has('patient')) return { status: 200, body: { resourceType: 'Bundle', type: 'searchset', total: 0 } };
    if (has('_lastUpdated') && finds !== 'nothing') return problem(400, 'not-supported', '_lastUpdated cannot be searched');
    if (finds === 'nothing') return undefined;
    if (!has('patient') && !(scoped[type] && has(scoped[type]))) return problem(400, 'required', 'a search needs its patient');
    if (needsCategory.includes(type) && !has('category')) return problem(400, 'required', `a search for ${type} needs a category`);
    return undefined;
  },
  answer: (request, answer) => {
    if (!isSearch(request) || answer.body?.resourceType !== 'Bundle' || hides.length === 0) return undefined;
    const entry = (answer.body.entry ?? []).filter(({ resource }) => !hides.includes(`${resource.resourceType}/${resource.id}`));
    const hidden = (answer.body.entry ?? []).length - entry.length;  // its index does not have them: they are not counted either
    const total = answer.body.total === undefined ? {} : { total: answer.body.total - hidden };
    return { ...answer, body: { ...answer.body, entry, ...total } };
  },
});
