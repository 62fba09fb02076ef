// @ts-check
/** An address with a secret in it, shown this once and never again. */

import { h } from "../dom.js";
import { t } from "../words.js";

/** @param {string} label @param {string} url @param {string} text what it is for */
export function once(label, url, text) {
  const shown = h("input", { type: "text", readonly: true, value: url, "aria-label": label });
  const said = h("span", { role: "status" });
  const copy = h("button", { type: "button", onclick: async () => {
    try {
      await navigator.clipboard.writeText(url);
      said.textContent = t("Copied.");
    } catch {
      shown.select();
      said.textContent = t("Marked: copy it by hand.");
    }
  } }, t("Copy"));
  return h("section", { class: "sheet" }, h("h2", null, label), h("p", null, `${text} ${t("It is shown this once: pass it on now.")}`),
    h("div", { class: "once" }, shown, copy, said));
}
