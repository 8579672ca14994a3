// Answers 401 unless the request carries the token: {token: "invented"}. /metadata stays open. Source: RFC 6750, section 3.
import { problem } from './common.mjs';

export default ({ token = 'invented' }) => ({
  refuse: ({ path, headers }) => {
    if (path === 'metadata' || headers.authorization === `Bearer ${token}`) return undefined;
    const error = headers.authorization ? ' error="invalid_token"' : '';
    return problem(401, 'login', 'A valid bearer token is needed', { 'www-authenticate': `Bearer realm="peer"${error}` });
  },
});
