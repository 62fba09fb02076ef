// @ts-check
/** A spring tested on a card: its readings kept with its line of the spring list too. */
import * as api from "../api.js";
import { h } from "../dom.js";
import { t } from "../words.js";

/**
 * The button that keeps the readings of a spring with its line of the list; hidden where the spring is of no list.
 * @param {import("./desk.js").Desk} desk
 * @param {() => number | null | undefined} stock the line's id
 * @param {() => any} tested the spring as typed
 */
export function keepTest(desk, stock, tested) {
  if (!stock()) return null;
  return h("button", { type: "button", class: "keep-test", onclick: async () => {
    const spring = tested();
    if (!spring) {
      desk.say(t("Type three readings or more first."));
      return;
    }
    const { deflection_mm, force_n } = spring;
    const line = await desk.act(t("keep the test"), () => api.post(`/api/springs/${stock()}/test/`, { deflection_mm, force_n }));
    if (line) desk.say(t("Kept with {code}: it is reckoned with as tested from now on.", { code: line.code }));
  } }, t("Keep it with the spring list"));
}
