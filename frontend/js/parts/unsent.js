// @ts-check
/** What an earlier visit left and the server then refused: shown one by one, until somebody decides. */

import { h } from "../dom.js";
import { ask, differences, twoVersions } from "./dialog.js";
import { deliver, forget, refused } from "./outbox.js";
import { t } from "../words.js";

/** Go through the refused changes. */
export async function decide() {
  for (const change of refused()) {
    const answer = change.theirs ? await versions(change) : await once(change);
    if (answer === null) return;
    forget(change.id);
    if (answer === "again") {
      const { method, path, body, versionAt, about, theirs, version, draft } = change;
      deliver({ method, path, body, versionAt, about, draft, version: theirs?.version ?? version }).catch(() => {});
    }
  }
}

/** @param {import("./outbox.js").Waiting} change @returns {Promise<"again" | "drop" | null>} */
async function versions(change) {
  const inside = change.theirs.body && !change.body?.body ? change.theirs.body : change.theirs;
  const answer = await twoVersions({ what: change.about, rows: differences(inside, change.body) });
  if (answer === null) return null;
  return answer === "yours" ? "again" : "drop";
}

/** @param {import("./outbox.js").Waiting} change @returns {Promise<"again" | "drop" | null>} */
function once(change) {
  return ask({
    title: t("{about}: not accepted", { about: change.about }),
    body: [
      ...(change.problems ?? []).map((problem) => h("p", { class: "problem" }, problem.text)),
      h("p", null, t("This is what was typed:")),
      h("ul", null, ...differences({}, change.body).map((row) => h("li", null, `${row.label}: ${row.yours}`))),
    ],
    choices: [
      { text: t("Delete it"), value: /** @type {const} */ ("drop") },
      { text: t("Send it again"), value: /** @type {const} */ ("again"), main: true },
    ],
  });
}
