// @ts-check
/** Between a form's flat values ("front.legs.0.preload_mm") and the nested data that the server takes. */

/**
 * @param {Record<string, any>} flat
 * @returns {any}
 */
export function nested(flat) {
  /** @type {any} */
  const root = {};
  for (const [path, value] of Object.entries(flat)) {
    const steps = path.split(".");
    const last = /** @type {string} */ (steps.pop());
    let holder = root;
    steps.forEach((step, index) => {
      const next = steps[index + 1] ?? last;
      holder[step] ??= /^\d+$/.test(next) ? [] : {};
      holder = holder[step];
    });
    holder[last] = value;
  }
  return root;
}

/**
 * Return the value at a dotted path, undefined where there is none.
 *
 * @param {any} holder
 * @param {string} path
 */
export const valueAt = (holder, path) => path.split(".").reduce((inner, step) => inner?.[step], holder);
