// @ts-check
/** The job cards: find one, or open a new one. */

import { h } from "../dom.js";
import { day } from "../parts/dates.js";
import { choiceField } from "../parts/field.js";
import { listing } from "../parts/listing.js";
import { draft } from "../store.js";

const STEPS = [
  { value: "", text: "every step" },
  { value: "received", text: "as received" },
  { value: "measured", text: "measured" },
  { value: "chosen", text: "chosen" },
  { value: "built", text: "built" },
  { value: "remeasured", text: "measured again" },
  { value: "handed_over", text: "handed over" },
  { value: "sealed", text: "sealed" },
];

/** @param {HTMLElement} root @param {import("../app.js").Params} _params @param {import("../app.js").App} app */
export async function open(root, _params, app) {
  const step = choiceField({ name: "step", label: "Step", list: true, choices: STEPS, value: "", onChange: () => list.again() });
  const list = listing({
    path: "/api/cards/",
    label: "Find a job card",
    hint: "Number, plate, make, model, frame number or customer.",
    filters: [step],
    row: (card) => row(card, app.person.shop.id),
    named: (count) => (count === 1 ? "1 job card" : `${count} job cards, newest first`),
    empty: [h("p", null, "No job card yet. A card holds how a bike came in, what was measured, what was fitted and why; "
      + "in two years anybody in your business can pick it up from here.")],
    nothing: (search) => (search ? `No job card matches “${search}” at this step.` : "No job card is at this step."),
  });
  const kept = draft("new-card").read();
  root.append(
    h("div", { class: "screen-head" }, h("h1", null, "Job cards"), h("a", { class: "button main", href: "#/new-card" }, "New job card")),
    kept ? h("div", { class: "restored" }, h("p", null, "A new job card is kept on this tablet and not opened yet."),
      h("a", { class: "button", href: "#/new-card" }, "Go on with it")) : "",
    list.element,
  );
  await list.again();
}

/** @param {any} card @param {number} shop */
function row(card, shop) {
  return h("li", null, h(
    "a", { href: `#/cards/${card.id}` },
    h("span", { class: "row-key digits" }, card.number),
    h("span", { class: "row-name" }, card.bike_title || card.loose_description || "loose part"),
    h("span", { class: "row-side" }, card.step_label),
    h("span", { class: "row-more" }, [
      card.plate, card.customer_name, `opened ${day(card.opened_at)}`, card.shop === shop ? "" : card.shop_name,
    ].filter(Boolean).join(" · ")),
  ));
}
