// Loses every n-th notification: {every: 3}. With every: 1 subscriptions are stored and never acted upon.
import { everyNth } from './common.mjs';

export default ({ every = 3, ...more }) => {
  const isLost = everyNth({ every, ...more });
  return { deliver: (notification) => (isLost() ? [] : [notification]) };
};
