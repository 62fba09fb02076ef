// @ts-check
/** Parts fitted, and parts given back to the customer. */
import { h, replace } from "../dom.js";
import { during } from "../parts/busy.js";
import { Entries } from "./entry.js";
import { keepFocus } from "./paint.js";
import { addLine, lineSheet, removeLine } from "./sheets.js";
import { t } from "../words.js";

const WHERE = [{ value: "fitted", text: t("fitted") }, { value: "given_back", text: t("given back") }];

/** @param {import("./desk.js").Desk} desk */
export function partLines(desk) {
  const list = h("ol", { class: "lines" });
  const empty = h("p", { class: "empty" }, t("No parts noted. What was fitted, with its batch, and what the rider got back."));
  const add = h("button", {
    type: "button", id: "add-part",
    onclick: () => during(add, () => addLine(desk, "parts", t("add a part"), { direction: "fitted", description: t("Part"), quantity: 1, batch: "" })),
  }, t("Add a part"));
  /** @type {Map<number, {node: HTMLElement, sync: () => void}>} */
  const lines = new Map();
  const sync = () => {
    const ids = desk.card.parts.map((/** @type {any} */ line) => line.id);
    for (const id of [...lines.keys()]) if (!ids.includes(id)) lines.delete(id);
    for (const id of ids) if (!lines.has(id)) lines.set(id, partLine(desk, id));
    const nodes = ids.map((/** @type {number} */ id) => lines.get(id)?.node);
    const moved = nodes.length !== list.children.length || nodes.some((/** @type {any} */ one, /** @type {number} */ at) => list.children[at] !== one);
    if (moved) keepFocus(list, () => replace(list, ...nodes));
    empty.hidden = ids.length > 0;
    for (const line of lines.values()) line.sync();
  };
  sync();
  return { node: h("section", { class: "part-place" }, h("h3", null, t("Parts")), empty, list, add), sync };
}

/**
 * @param {import("./desk.js").Desk} desk
 * @param {number} id
 */
function partLine(desk, id) {
  const sheet = lineSheet(desk, "parts", id);
  const entries = new Entries(sheet);
  const find = () => desk.card.parts.find((/** @type {any} */ line) => line.id === id) ?? {};
  const fields = h(
    "div", { class: "group-fields" },
    entries.text("description", { label: t("Part"), maxlength: 200 }),
    entries.choice("direction", { label: t("Where it went"), choices: WHERE }),
    entries.number("quantity", { label: t("Pieces"), quantity: "", step: 1 }),
    entries.text("batch", { label: t("Batch"), maxlength: 40 }),
  );
  const drop = h("button", {
    type: "button", class: "quiet-button",
    onclick: () => removeLine(desk, "parts", t("remove a part"), find()),
  }, t("Remove the part"));
  const title = h("span", { class: "line-title" });
  const state = h("span", { class: "line-state" });
  const sync = () => {
    entries.sync();
    const line = find();
    const text = `${line.description ?? ""}${line.quantity > 1 ? ` × ${line.quantity}` : ""}`;
    if (title.textContent !== text) title.textContent = text;
    const where = [line.direction === "given_back" ? t("given back") : t("fitted"), line.batch ? t("batch {batch}", { batch: line.batch }) : ""].filter(Boolean).join(", ");
    if (state.textContent !== where) state.textContent = where;
  };
  sync();
  return { node: h("li", { class: "line" }, h("details", null, h("summary", null, title, state), fields, drop)), sync };
}
