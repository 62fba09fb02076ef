// @ts-check
/** Dotted paths into plain data: "legs.0.preload_mm". */

/** @typedef {any} Plain */

/**
 * The value at a path, or undefined where the way breaks off.
 * @param {Plain} data
 * @param {string} path
 */
export function at(data, path) {
  let here = data;
  for (const step of path.split(".")) {
    if (here === null || here === undefined) return undefined;
    here = here[step];
  }
  return here;
}

/**
 * A copy of `data` with `value` at `path`; missing holders are made, arrays where the next step is a number.
 * @param {Plain} data
 * @param {string} path
 * @param {Plain} value
 * @returns {Plain}
 */
export function put(data, path, value) {
  const [step, ...rest] = path.split(".");
  const holder = Array.isArray(data) ? [...data] : /^\d+$/.test(step) && !data ? [] : { ...data };
  holder[step] = rest.length ? put(holder[step], rest.join("."), value) : value;
  return holder;
}

/**
 * Whether two plain values say the same; a missing one equals null.
 * @param {Plain} one
 * @param {Plain} other
 * @returns {boolean}
 */
export function same(one, other) {
  if (one === other || (one ?? null) === (other ?? null)) return true;
  if (typeof one !== "object" || typeof other !== "object" || !one || !other) return false;
  const names = new Set([...Object.keys(one), ...Object.keys(other)]);
  return [...names].every((name) => same(one[name], other[name]));
}

/**
 * Whether `path` is `parent` or lies under it.
 * @param {string} path
 * @param {string} parent
 */
export const under = (path, parent) => path === parent || path.startsWith(`${parent}.`);
