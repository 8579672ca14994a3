// Next links that lead astray: {kind: "self"}. "self": next is the page itself, also on the last one; "host": next is on a host that
// does not answer; "relative": next without scheme and host; "repeat": each page begins with the last match of the one before;
// "beyond": the last page has a next, to an empty page; "outcome": no link, but an error among the entries says that this is a part.
import { isSearch } from './common.mjs';

const linkOf = (bundle, relation) => bundle.link?.find((link) => link.relation === relation);

function withNext(bundle, url) {
  return { ...bundle, link: [...bundle.link.filter((link) => link.relation !== 'next'), { relation: 'next', url }] };
}

function moveOffset(url, by) {
  const moved = new URL(url);
  moved.searchParams.set('_offset', Math.max(1, Number(moved.searchParams.get('_offset')) + by));
  return moved.href;
}

const kinds = {
  self: (bundle, self) => self,
  host: (bundle, self, next) => next && next.replace(/^http:\/\/[^/]+/, 'http://127.0.0.1:1'),
  relative: (bundle, self, next) => next && next.replace(/^http:\/\/[^/]+/, ''),
  repeat: (bundle, self, next) => next && moveOffset(next, -1),
  beyond: (bundle, self, next) => next ?? (bundle.entry?.length ? moveOffset(self, bundle.total) : undefined),
};

const problem = { resourceType: 'OperationOutcome', issue: [{ severity: 'error', code: 'incomplete', diagnostics: 'One of the shards did not answer' }] };

export default ({ kind = 'self' }) => ({
  answer: (request, answer) => {
    if (!isSearch(request) || answer.body?.type !== 'searchset') return undefined;
    if (kind === 'outcome') return { ...answer, body: { ...answer.body, entry: [...(answer.body.entry ?? []), { resource: problem, search: { mode: 'outcome' } }] } };
    const url = kinds[kind](answer.body, linkOf(answer.body, 'self').url, linkOf(answer.body, 'next')?.url);
    return url && { ...answer, body: withNext(answer.body, url) };
  },
});
