// @ts-check
/** For what need not keep up with a moving hand: it is done once the hand rests. */

/** How long a hand rests before it is taken to, ms. */
const REST_MS = 150;

/** @param {() => void} act */
export function onRest(act) {
  let timer = 0;
  let moved = 0;
  let due = false;
  // One clock for a whole movement: to stop it and set it again with every step would cost the hand more.
  const look = () => {
    const left = moved + REST_MS - performance.now();
    timer = due && left > 0 ? window.setTimeout(look, left) : 0;
    if (!due || timer) return;
    due = false;
    act();
  };
  return {
    moves: () => {
      due = true;
      moved = performance.now();
      timer ||= window.setTimeout(look, REST_MS);
    },
    /** It has been done already. */
    done: () => {
      due = false;
    },
  };
}
