// @ts-check
/** For what need not keep up with a moving hand: it is done once the hand rests. */

/** How long a hand rests before it is taken to, ms. */
const REST_MS = 150;

/** What waits for the hand. @type {Set<() => void>} */
const due = new Set();
let moved = 0;
// One clock for all of a movement: to stop it and set it again with every step would cost the hand more.
let timer = 0;

function look() {
  const left = moved + REST_MS - performance.now();
  timer = due.size && left > 0 ? window.setTimeout(look, left) : 0;
  // One may do what another waits for.
  if (!timer) for (const act of [...due]) if (due.delete(act)) act();
}

/** @param {() => void} act */
export const onRest = (act) => ({
  moves: () => {
    due.add(act);
    moved = performance.now();
    timer ||= window.setTimeout(look, REST_MS);
  },
  /** It has been done already. */
  done: () => {
    due.delete(act);
  },
});
