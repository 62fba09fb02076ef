// @ts-check
/** A loose fork or shock has no bike to keep its sizes: they are kept with the card. */
import { h, replace } from "../dom.js";
import { endForm } from "../parts/end-data.js";
import { form } from "../parts/form.js";
import * as api from "../api.js";
import { t } from "../words.js";

/**
 * @param {import("./desk.js").Desk} desk
 * @param {"front"|"rear"} end
 */
export function loosePart(desk, end) {
  const name = `loose_${end}`;
  const place = h("div", { class: "group" });
  const draw = () => {
    const data = endForm(end, { [end]: desk.card[name], sources: {} }, undefined);
    replace(place, form({
      title: end === "front" ? t("The fork's own sizes") : t("The shock's own sizes"), heading: "none",
      fields: data.fields, layout: data.layout, submit: t("Keep the sizes"), rename: data.rename,
      // A place of its own: the card's sheets are read back from "card.".
      draftName: `loose.${desk.id}.${end}`, version: desk.card.version,
      send: (values, version) => api.patch(desk.path, { [name]: data.body(values)[end] }, version),
      done: (card) => {
        desk.take(card);
        desk.say(t("Sizes kept."));
        draw();
      },
    }).element);
  };
  draw();
  return h("details", { class: "loose", open: !desk.card[name] }, h("summary", null, end === "front" ? t("The fork's own sizes") : t("The shock's own sizes")), place);
}
