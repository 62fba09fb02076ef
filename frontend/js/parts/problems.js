// @ts-check
/**
 * Where the server's problems are shown: each at its field, the rest in one list that takes the focus.
 *
 * @typedef {import("../api.js").Problem} Problem
 */

import { h, replace } from "../dom.js";

/** An empty place for problems that belong to no field. */
export function problemList() {
  return h("div", { class: "problems", role: "alert" });
}

/**
 * Show `problems`: at the field of that name, or in `list`. Fields without a problem are cleared; the first one with a
 * problem takes the focus.
 *
 * @param {(Problem & {at?: string})[]} problems `at`: the server's own path, where `field` was renamed
 * @param {Record<string, import("./field.js").Field>} fields by the name that the server uses
 * @param {HTMLElement} list
 * @returns {boolean} whether there was any
 */
export function showProblems(problems, fields, list) {
  for (const field of Object.values(fields)) field.problem(null);
  /** @type {string[]} */
  const rest = [];
  /** @type {import("./field.js").Field | null} */
  let first = null;
  for (const problem of problems) {
    const field = fields[problem.field ?? ""];
    if (field) {
      field.problem(problem.text, problem.at ?? problem.field);
      for (let fold = field.element.closest("details"); fold; fold = fold.parentElement?.closest("details") ?? null) fold.open = true;
      first ??= field;
    } else if (!rest.includes(worded(problem))) {
      rest.push(worded(problem));
    }
  }
  replace(list, ...rest.map((text) => h("p", { class: "problem" }, text)));
  if (first) first.focus();
  return problems.length > 0;
}

/** A bare "required" says of which field. @param {Problem} problem */
function worded(problem) {
  const bare = ["required", "null", "blank"].includes(problem.code) && problem.field;
  return bare ? `${problem.field.replaceAll("_", " ")}: ${problem.text}` : problem.text;
}
