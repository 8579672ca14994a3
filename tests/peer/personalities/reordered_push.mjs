// Sends every n-th notification late, so that later ones overtake it: {every: 2, skip: 0, ms: 150}.
import { everyNth } from './common.mjs';

export default ({ every = 2, ms = 150, ...more }) => {
  const isLate = everyNth({ every, ...more });
  return { deliver: (notification) => [isLate() ? { ...notification, delayMs: ms } : notification] };
};
