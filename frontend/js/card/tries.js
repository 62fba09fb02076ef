// @ts-check
/** Values under the hand, answered together with those that it may reach next: so most of them wait for nobody. */
import { Offline, Refused } from "../api.js";
import { whyNot } from "./live.js";

/** How many values are asked at once: more would keep the hand waiting for the one that it holds; and while it waits for none. */
const AT_ONCE = 6;
const AHEAD = 25;
/** So many steps before a moving hand would come to a value that is not known, more are asked for; and how often that is looked after, ms. */
const NEAR = 10;
const LOOK_MS = 100;

/**
 * @typedef {Record<string, number>} Values by path
 * @typedef {(values: Values) => Iterable<Values>} Around these, and what may come next, the likeliest first
 */

/**
 * @param {(tries: Values[]) => Promise<{picture: string, tries: any[]}>} put asks the server, once at a time
 * @param {{answer: (side: any, picture: string) => void, asked: () => void, failed: (why: string) => void}} hands
 */
export function tries(put, { answer, asked, failed }) {
  /** @type {Map<string, any>} */
  const known = new Map();
  /** @type {{values: Values, key: string, around: Around, told: boolean, quiet: boolean} | null} */
  let wanted = null;
  let picture = "";
  let flying = false;
  let later = 0;
  let round = 0;

  const unknown = () => {
    const { values, around, told, quiet } = /** @type {NonNullable<typeof wanted>} */ (wanted);
    /** @type {Map<string, Values>} */
    const found = new Map();
    let looked = 0;
    for (const one of around(values)) {
      const key = keyOf(one);
      if (!known.has(key)) found.set(key, one);
      if (found.size === (told ? AHEAD : AT_ONCE)) break;
      if (told && !quiet && looked === NEAR && !found.size) break;
      looked += 1;
    }
    return [...found];
  };

  async function fly() {
    window.clearTimeout(later);
    later = 0;
    if (flying) return;
    flying = true;
    try {
      for (let asks = wanted && unknown(); asks?.length; asks = wanted && unknown()) await one(asks);
    } finally {
      flying = false;
    }
  }

  /** @param {[string, Values][]} asks */
  async function one(asks) {
    const mine = round;
    try {
      const found = await put(asks.map(([, values]) => values));
      if (mine !== round) return;
      picture = found.picture;
      asks.forEach(([key], index) => known.set(key, found.tries[index]));
      tell();
    } catch (error) {
      if (!(error instanceof Offline || error instanceof Refused)) throw error;
      if (mine !== round || !wanted) return;
      const { told } = wanted;
      wanted = null;
      if (!told) failed(whyNot(error));
    }
  }

  function tell() {
    const side = wanted && !wanted.told ? known.get(wanted.key) : null;
    if (!wanted || !side) return;
    wanted.told = true;
    answer(side, picture);
  }

  return {
    /**
     * @param {Values} values
     * @param {Around} around
     * @param {{quiet?: boolean}} [how] `quiet`: the values are shown already
     */
    ask: (values, around, { quiet = false } = {}) => {
      wanted = { values, key: keyOf(values), around, told: quiet, quiet };
      tell();
      if (!wanted.told) asked();
      if (flying) return;
      // What is known already is painted first, and what comes after it looked after now and then.
      if (!wanted.told) void fly();
      else later ||= window.setTimeout(fly, LOOK_MS);
    },
    /** What is known of values, with the picture that it is told of. @param {Values} values */
    known: (values) => {
      const side = known.get(keyOf(values));
      return side ? { side, picture } : null;
    },
    stop: () => {
      wanted = null;
    },
    /** What the answers rest on has changed. */
    forget: () => {
      wanted = null;
      round += 1;
      known.clear();
    },
  };
}

/** @param {Values} values */
const keyOf = (values) => JSON.stringify(values);
