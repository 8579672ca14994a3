// Sends every n-th notification several times: {every: 1, copies: 2}.
import { everyNth } from './common.mjs';

export default ({ copies = 2, ...more }) => {
  const isRepeated = everyNth(more);
  return { deliver: (notification) => Array(isRepeated() ? copies : 1).fill(notification) };
};
