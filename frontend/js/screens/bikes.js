// @ts-check
/** The bikes that the business has had on the bench, across its shops. */

import { h } from "../dom.js";
import { listing } from "../parts/listing.js";
import { t, tn } from "../words.js";
import { kindName } from "../parts/kinds.js";

/** @param {HTMLElement} root */
export async function open(root) {
  const list = listing({
    path: "/api/bikes/",
    label: t("Find a bike"),
    hint: t("Make, model, plate, frame number or owner."),
    row,
    named: (count) => tn(count, "1 bike", "{n} bikes"),
    empty: [h("p", null, t("No bike yet. A bike comes in with its first job card; from then on its suspension data and every change made to it are kept here, so that nothing is measured twice."))],
    nothing: (search) => t("No bike matches “{search}”.", { search }),
  });
  root.append(
    h("div", { class: "screen-head" }, h("h1", null, t("Bikes")), h("a", { class: "button main", href: "#/new-card" }, t("New job card"))),
    list.element,
  );
  await list.again();
}

/** @param {any} bike */
function row(bike) {
  return h("li", null, h(
    "a", { href: `#/bikes/${bike.id}` },
    h("span", { class: "row-key digits" }, bike.plate || t("no plate")),
    h("span", { class: "row-name" }, bike.title),
    h("span", { class: "row-side soft" }, kindName(bike.kind)),
    h("span", { class: "row-more" }, [bike.owner_name || t("no owner named"), bike.frame_number].filter(Boolean).join(" · ")),
  ));
}
