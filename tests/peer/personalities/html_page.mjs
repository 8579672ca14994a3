// Answers every n-th request with 200 and a web page, as a proxy or a login page would, without doing the work: {every: 3}.
import { everyNth } from './common.mjs';

const page = Buffer.from('<!doctype html><html><head><title>Welcome</title></head><body><p>Please sign in.</p></body></html>');

export default ({ every = 3, ...more }) => {
  const isPage = everyNth({ every, ...more });
  return { refuse: () => (isPage() ? { status: 200, headers: { 'content-type': 'text/html; charset=utf-8' }, bytes: page } : undefined) };
};
