// @ts-check
/** What a choice means, folded under it: whom it suits, the room it leaves, loads, grip, a better wire, how sure it is. */
import { h } from "../dom.js";
import { grip } from "./grip.js";
import { loads } from "./loads.js";
import { sitting } from "./sitting.js";
import { otherWire } from "./other-wire.js";
import { room } from "./room.js";
import { sureness } from "./sureness.js";
import { whom } from "./whom.js";
import { t } from "../words.js";

/**
 * @param {import("./desk.js").Desk} desk
 * @param {"front"|"rear"} end
 */
export function looks(desk, end) {
  const all = [room(desk, end), whom(desk, end), loads(desk, end), sitting(desk, end), grip(desk, end), otherWire(desk, end), sureness(desk, [end], ["chosen", "received"])];
  return {
    node: h("section", { class: "looks", "aria-label": t("What this choice means") }, h("h3", null, t("What this choice means")), ...all.map((one) => one.node)),
    sync: () => {
      for (const one of all) one.sync();
    },
  };
}
