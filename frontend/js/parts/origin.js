// @ts-check
/**
 * Where a fact comes from. Each number of a bike carries it: measured, stamped on the part, the manual (edition and
 * page), or assumed.
 *
 * @typedef {import("./field.js").Origin} Origin
 */

import { h, replace } from "../dom.js";
import { ask } from "./dialog.js";
import { t } from "../words.js";

const ORIGINS = /** @type {const} */ (["measured", "stamped", "manual", "assumed"]);

/** @type {Record<string, string>} */
const NAMES = { measured: t("measured"), stamped: t("stamped"), assumed: t("assumed"), computed: t("computed") };

/** Say an origin in words. @param {Origin | null | undefined} origin */
export function originText(origin) {
  if (origin?.from !== "manual") return NAMES[origin?.from ?? "assumed"];
  return [t("manual"), origin.edition, origin.page && t("p. {page}", { page: origin.page })].filter(Boolean).join(", ");
}

/**
 * The mark beside a fact: read-only without `onOrigin`, else a touch changes it.
 *
 * @param {{label: string, origin: Origin | null, onOrigin?: (origin: Origin) => void}} options
 */
export function originMark({ label, origin, onOrigin }) {
  let held = origin;
  const kind = () => `origin ${held?.from ?? "assumed"}`;
  if (!onOrigin) return h("span", { class: kind() }, originText(held));
  const mark = h("button", { type: "button", class: kind(), onclick: async () => {
    const next = await askOrigin(label, held);
    if (!next) return;
    held = next;
    mark.className = kind();
    draw();
    onOrigin(next);
  } });
  const draw = () => replace(mark, originText(held), h("span", { class: "quiet" }, t(": where {label} comes from; change", { label })));
  draw();
  return mark;
}

/** @param {string} label @param {Origin | null} origin @returns {Promise<Origin | null>} */
async function askOrigin(label, origin) {
  const edition = h("input", { type: "text", id: "origin-edition", value: origin?.edition ?? "", autocomplete: "off" });
  const page = h("input", { type: "text", id: "origin-page", value: origin?.page ?? "", autocomplete: "off" });
  // What was computed, nobody has stated: the question then starts at "assumed".
  const stated = ORIGINS.find((from) => from === origin?.from) ?? "assumed";
  const radios = ORIGINS.map((from) => h("input", {
    type: "radio", name: "origin", value: from, checked: from === stated, onchange: () => draw(),
  }));
  const manual = h(
    "div", { class: "pair" },
    h("div", { class: "field" }, h("label", { for: "origin-edition" }, t("Edition of the manual")), edition),
    h("div", { class: "field" }, h("label", { for: "origin-page" }, t("Page")), page),
  );
  const chosen = () => ORIGINS[radios.findIndex((radio) => radio.checked)];
  const draw = () => {
    manual.hidden = chosen() !== "manual";
  };
  draw();
  const words = { measured: t("measured here"), stamped: t("stamped on the part"), manual: t("the maker's manual"), assumed: t("assumed") };
  const answer = await ask({
    title: t("Where does “{label}” come from?", { label }),
    body: [
      h("fieldset", { class: "field choice" }, h("legend", { class: "quiet" }, t("origin")), h("div", { class: "choices" },
        ...radios.map((radio, index) => h("label", null, radio, h("span", null, words[ORIGINS[index]]))))),
      manual,
    ],
    choices: [{ text: t("Cancel"), value: false }, { text: t("Set"), value: true, main: true }],
  });
  if (!answer) return null;
  const from = chosen();
  return from === "manual" ? { from, edition: edition.value.trim(), page: page.value.trim() } : { from };
}
