// Answers 403 to every search about one patient, whose chart is closed to this client: {"patient": "id"}.
import { isSearch, problem } from './common.mjs';

export default ({ patient }) => ({
  refuse: (request) => (isSearch(request) && new RegExp(`(^|&)patient=(Patient/)?${patient}(&|$)`).test(decodeURIComponent(request.query))
    ? problem(403, 'forbidden', 'This chart is closed to you') : undefined),
});
