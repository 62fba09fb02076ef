// @ts-check
/** The job cards: find one, or open a new one. */

import { h } from "../dom.js";
import { day } from "../parts/dates.js";
import { choiceField } from "../parts/field.js";
import { listing } from "../parts/listing.js";
import { draft } from "../store.js";
import { t, tn } from "../words.js";

const STEPS = [
  { value: "", text: t("every step") },
  { value: "received", text: t("as received") },
  { value: "measured", text: t("measured") },
  { value: "chosen", text: t("chosen") },
  { value: "built", text: t("built") },
  { value: "remeasured", text: t("measured again") },
  { value: "handed_over", text: t("handed over") },
  { value: "sealed", text: t("sealed") },
];

/** @param {HTMLElement} root @param {import("../app.js").Params} _params @param {import("../app.js").App} app */
export async function open(root, _params, app) {
  const step = choiceField({ name: "step", label: t("Step"), list: true, choices: STEPS, value: "", onChange: () => list.again() });
  const list = listing({
    path: "/api/cards/",
    label: t("Find a job card"),
    hint: t("Number, plate, make, model, frame number or customer."),
    filters: [step],
    row: (card) => row(card, app.person.shop.id),
    named: (count) => tn(count, "1 job card", "{n} job cards, newest first"),
    empty: [h("p", null, t("No job card yet. A card holds how a bike came in, what was measured, what was fitted and why; in two years anybody in your business can pick it up from here."))],
    nothing: (search) => (search ? t("No job card matches “{search}” at this step.", { search }) : t("No job card is at this step.")),
  });
  const kept = draft("new-card").read();
  root.append(
    h("div", { class: "screen-head" }, h("h1", null, t("Job cards")), h("a", { class: "button main", href: "#/new-card" }, t("New job card"))),
    kept ? h("div", { class: "restored" }, h("p", null, t("A new job card is kept on this tablet and not opened yet.")),
      h("a", { class: "button", href: "#/new-card" }, t("Go on with it"))) : "",
    list.element,
  );
  await list.again();
}

/** @param {any} card @param {number} shop */
function row(card, shop) {
  return h("li", null, h(
    "a", { href: `#/cards/${card.id}` },
    h("span", { class: "row-key digits" }, card.number),
    h("span", { class: "row-name" }, card.bike_title || card.loose_description || t("loose part")),
    h("span", { class: "row-side" }, card.step_label),
    h("span", { class: "row-more" }, [
      card.plate, card.customer_name, t("opened {when}", { when: day(card.opened_at) }), card.shop === shop ? "" : card.shop_name,
    ].filter(Boolean).join(" · ")),
  ));
}
