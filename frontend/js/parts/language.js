// @ts-check
/** The choice of a language by whoever is not signed in: each by its own name. */

import { h } from "../dom.js";
import { LANGUAGES, language, speak } from "../words.js";

export function languageSwitch() {
  return h("div", { class: "actions languages" }, ...Object.entries(LANGUAGES).filter(([each]) => each !== language)
    .map(([each, name]) => h("button", { type: "button", class: "plain", lang: each, onclick: () => speak(each) }, name)));
}
