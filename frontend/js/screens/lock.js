// @ts-check
/** A shared tablet between two people: a name, then six digits on keys for gloved hands. */

import { Offline, Refused, get, post } from "../api.js";
import { h, replace } from "../dom.js";
import { t } from "../words.js";
import { languageSwitch } from "../parts/language.js";

const DIGITS = 6;
const KEYS = ["1", "2", "3", "4", "5", "6", "7", "8", "9"];

/**
 * @param {HTMLElement} root
 * @param {{tablet: {name: string, shop_name: string}, signedIn: (answer: import("../store.js").Session) => void,
 *          byPassword: () => void, say: (text: string) => void}} app
 * @returns {{close: () => void}}
 */
export function open(root, app) {
  const place = h("section", { class: "sheet hands" });
  /** @type {((key: string) => void) | null} */
  let typed = null;
  const keyed = (/** @type {KeyboardEvent} */ event) => {
    if (/^\d$/.test(event.key) || event.key === "Backspace") typed?.(event.key);
  };
  const password = () => h("button", { type: "button", class: "plain", onclick: app.byPassword }, t("Sign in with the password"));

  async function names() {
    typed = null;
    let people;
    try {
      ({ people } = await get("/api/tablet/"));
    } catch (error) {
      if (!(error instanceof Offline)) throw error;
      replace(place, h("h1", { tabindex: "-1" }, t("Locked")),
        h("p", null, t("There is no connection, and who takes over is checked by the server. What was typed is kept on this tablet for whoever typed it.")),
        h("div", { class: "actions" }, h("button", { type: "button", class: "main", onclick: names }, t("Try again"))));
      return;
    }
    replace(
      place, h("h1", { tabindex: "-1" }, t("Who takes over?")),
      h("p", { class: "soft" }, `${app.tablet.shop_name} · ${app.tablet.name}`),
      people.length
        ? h("ul", { class: "names" }, ...people.map((/** @type {any} */ person) => h("li", null,
          h("button", { type: "button", onclick: () => keypad(person) }, person.name))))
        : h("p", null, t("Nobody of this shop has a PIN yet. Sign in with the password; under your own name at the top you then set one.")),
      h("div", { class: "actions" }, password()),
    );
  }

  /** @param {{id: number, name: string}} person */
  function keypad(person) {
    let pin = "";
    let asking = false;
    const shown = h("p", { class: "pin", role: "status" });
    const problem = h("div", { class: "problems", role: "alert" });
    const draw = () => replace(shown, h("span", { "aria-hidden": "true" }, "●".repeat(pin.length) + "○".repeat(DIGITS - pin.length)),
      h("span", { class: "quiet" }, t("{n} of {all} digits", { n: pin.length, all: DIGITS })));

    /** @param {string} key */
    function press(key) {
      if (asking) return;
      replace(problem);
      pin = key === "Backspace" ? pin.slice(0, -1) : (pin + key).slice(0, DIGITS);
      draw();
      if (pin.length === DIGITS) check();
    }

    async function check() {
      asking = true;
      try {
        // The first answer of a fresh browser sets the token that the next request must carry.
        await get("/api/session/");
        app.signedIn(await post("/api/tablet/hands/", { person: person.id, pin }));
      } catch (error) {
        if (!(error instanceof Refused || error instanceof Offline)) throw error;
        const texts = error instanceof Refused ? error.problems.map((each) => each.text) : [t("No connection: the PIN is checked by the server.")];
        replace(problem, ...texts.map((text) => h("p", { class: "problem" }, text)));
      } finally {
        pin = "";
        asking = false;
        draw();
      }
    }

    const key = (/** @type {string} */ digit) => h("button", { type: "button", onclick: () => press(digit) }, digit);
    draw();
    replace(
      place, h("h1", { tabindex: "-1" }, person.name), problem, shown,
      h("div", { class: "keys", role: "group", "aria-label": t("PIN") }, ...KEYS.map(key),
        h("button", { type: "button", class: "word", onclick: names }, t("Back")), key("0"),
        h("button", { type: "button", class: "word", "aria-label": t("Delete the last digit"), onclick: () => press("Backspace") }, "⌫")),
      h("div", { class: "actions" }, password()),
    );
    typed = press;
    place.querySelector("h1")?.focus();
  }

  addEventListener("keydown", keyed);
  root.append(place, languageSwitch());
  names();
  return { close: () => removeEventListener("keydown", keyed) };
}
