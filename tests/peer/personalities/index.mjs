// Personalities: how servers behave beside, or against, the standard. Each is a module whose default export makes it from options:
//   export default (options) => ({ hooks })           (may be async)
// Hooks, all optional:
//   refuse(request, peer)        an answer instead of the server's, before anything happens (may be async)
//   alter(request)               changes the parsed request.body
//   refuseWrite(write)           an OperationOutcome (see outcomes.mjs) against {interaction, type, id}; also within Bundles, where it
//                                fails the transaction; interaction: create | create-with-id | update | delete
//   judge(resource)              issues [{layer, where, text}] of a resource about to be stored
//   answer(request, answer)      the answer to send; it may carry `cut` or `drip` (http.mjs)   (may be async)
//   deliver(notification)        the notifications to send instead: none, several, with another form or delayMs
//   undelivered(notification, repository)   after the last try
//   describe(capabilities)       the CapabilityStatement to show
//   stamp()                      text for meta.lastUpdated
//   flags                        list of words that others ask for with has()
// Every personality also takes `methods` (list) and `path` (regular expression): requests that do not match pass it by.
// Nothing is random: "every n-th" is counted, so a test that asks again gets the same again.
import any_version from './any_version.mjs';
import broken_paging from './broken_paging.mjs';
import clock_drift from './clock_drift.mjs';
import delete_push from './delete_push.mjs';
import demands_token from './demands_token.mjs';
import duplicate_push from './duplicate_push.mjs';
import entry_limit from './entry_limit.mjs';
import html_page from './html_page.mjs';
import ignores_if_match from './ignores_if_match.mjs';
import large_hospital from './large_hospital.mjs';
import lossy_push from './lossy_push.mjs';
import lost_response from './lost_response.mjs';
import narrow_search from './narrow_search.mjs';
import never_activates from './never_activates.mjs';
import no_client_ids from './no_client_ids.mjs';
import no_transactions from './no_transactions.mjs';
import ordinary from './ordinary.mjs';
import post_push from './post_push.mjs';
import push_gives_up from './push_gives_up.mjs';
import referential_integrity from './referential_integrity.mjs';
import refuses_create from './refuses_create.mjs';
import refuses_urn_in_url from './refuses_urn_in_url.mjs';
import reordered_push from './reordered_push.mjs';
import slow from './slow.mjs';
import stale_search from './stale_search.mjs';
import strict from './strict.mjs';
import throttling from './throttling.mjs';
import unavailable from './unavailable.mjs';
import withholds from './withholds.mjs';
import wrong_answer from './wrong_answer.mjs';

const makers = {
  any_version, broken_paging, clock_drift, delete_push, demands_token, duplicate_push, entry_limit, html_page, ignores_if_match, large_hospital, lossy_push,
  lost_response, narrow_search, never_activates, no_client_ids, no_transactions, ordinary, post_push, push_gives_up, referential_integrity, refuses_create,
  refuses_urn_in_url, reordered_push, slow, stale_search, strict, throttling, unavailable, withholds, wrong_answer,
};
const moduleName = (name) => String(name).replaceAll('-', '_');
const publicName = (name) => name.replaceAll('_', '-');

export const available = Object.keys(makers).map(publicName);

const concerns = ({ methods, path }, request) =>
  (!methods || methods.includes(request.method)) && (!path || new RegExp(path).test(request.path));

/** The personalities in force, in the order they were added. */
export class Personalities {
  active = []; // {name, options, hooks}

  /** Adds one; one of that name is replaced. Throws on an unknown name. */
  async add(name, options = {}) {
    const make = Object.hasOwn(makers, moduleName(name)) && makers[moduleName(name)];
    if (!make) throw new Error(`no personality "${name}"; there are: ${available.join(', ')}`);
    const hooks = await make(options);
    this.remove(name);
    this.active.push({ name: publicName(moduleName(name)), options, hooks });
  }

  /** Takes one off, or all. */
  remove(name) {
    const gone = name && publicName(moduleName(name));
    this.active = gone ? this.active.filter((one) => one.name !== gone) : [];
  }

  list() {
    return this.active.map(({ name, options }) => ({ name, options }));
  }

  has(flag) {
    return this.active.some(({ hooks }) => hooks.flags?.includes(flag));
  }

  async refuse(request, peer) {
    for (const { name, hooks } of this.#concerned(request)) {
      const answer = await hooks.refuse?.(request, peer);
      if (answer) return { headers: {}, ...answer, by: name };
    }
    return undefined;
  }

  alter(request) {
    for (const { hooks } of this.#concerned(request)) if (request.body) hooks.alter?.(request);
  }

  async answer(request, answer) {
    let current = answer;
    for (const { name, hooks } of this.#concerned(request)) {
      const changed = await hooks.answer?.(request, current);
      if (changed) current = { ...changed, by: name };
    }
    return current;
  }

  refuseWrite(write) {
    for (const { hooks } of this.active) {
      const problem = hooks.refuseWrite?.(write);
      if (problem) return problem;
    }
    return undefined;
  }

  judge(resource) {
    return this.active.flatMap(({ hooks }) => hooks.judge?.(resource) ?? []);
  }

  deliver(notification) {
    return this.active.reduce(
      (copies, { hooks }) => (hooks.deliver ? copies.flatMap((copy) => hooks.deliver(copy)) : copies), [notification],
    );
  }

  undelivered(notification, repository) {
    for (const { hooks } of this.active) hooks.undelivered?.(notification, repository);
  }

  describe(capabilities) {
    return this.active.reduce((statement, { hooks }) => hooks.describe?.(statement) ?? statement, capabilities);
  }

  stamp() {
    return this.active.map(({ hooks }) => hooks.stamp?.()).find(Boolean);
  }

  #concerned(request) {
    return this.active.filter(({ options }) => concerns(options, request));
  }
}
