// Whether the farm's machine answers this page, told once each time that changes.

// One frame without an answer may be an accident, two in a row are none.
const MOST_MISSED = 2;

// tell: called with "well", "away" or "signed-out".
export function makeHealth(tell) {
  let state = "well";
  let missed = 0;
  const be = (next) => {
    if (next === state) return;
    state = next;
    tell(state);
  };
  return {
    isAway: () => state === "away",
    heard() {
      missed = 0;
      be("well");
    },
    missed() {
      missed += 1;
      if (missed >= MOST_MISSED) be("away");
    },
    slow() {
      be("away");
    },
    signedOut() {
      missed = 0;
      be("signed-out");
    },
  };
}

// AbortSignal.timeout by hand: phones of before 2022 have none (from memory).
export function stopAfter(ms) {
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), ms);
  return { signal: stop.signal, end: () => clearTimeout(timer) };
}
