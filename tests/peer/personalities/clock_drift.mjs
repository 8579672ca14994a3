// A cluster whose nodes disagree about the time: meta.lastUpdated is off by the seconds listed, in turns: {seconds: [0, 90, -30]}.
export default ({ seconds = [0, 90, -30] }) => {
  let writes = 0;
  return {
    stamp: () => {
      const drift = seconds[writes % seconds.length];
      writes += 1;
      return new Date(Date.now() + drift * 1000).toISOString();
    },
  };
};
