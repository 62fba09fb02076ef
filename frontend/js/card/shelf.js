// @ts-check
/** What the card takes from the shelf when it is sealed, and where the spring list must be wrong. */
import { get } from "../api.js";
import { h, replace } from "../dom.js";
import { t } from "../words.js";

/** @param {import("./desk.js").Desk} desk */
export function shelfLines(desk) {
  const place = h("div");
  get(`${desk.path}shelf/`).then(({ springs }) => {
    if (!springs.length) return;
    replace(place, h("h3", null, t("From the shelf")), h("p", null, t("Sealing takes off the spring list what was fitted:")),
      h("ul", null, ...springs.map((/** @type {any} */ each) => h("li", null, line(each)))));
  }, () => {}); // without network the list is said when it is back; sealing needs one anyway
  return place;
}

/** @param {{code: string, batch: string, stock: number, count: number, short: number}} each */
function line({ code, batch, stock, count, short }) {
  const values = { count, code, batch, stock, after: stock - count + short };
  const left = batch ? t("{count} × {code}, batch {batch}: {stock} on the list, {after} after.", values) : t("{count} × {code}: {stock} on the list, {after} after.", values);
  return short ? [left, t("The list has {short} too few: count the shelf.", { short })].join(" ") : left;
}
