// @ts-check
/** Torque lines: fastener, value from the bike's own manual, wrench, who tightened and who checked. None is supplied. */
import * as api from "../api.js";
import { h, replace } from "../dom.js";
import { during } from "../parts/busy.js";
import { day, moment } from "../parts/dates.js";
import { ask } from "../parts/dialog.js";
import { Entries } from "./entry.js";
import { keepFocus } from "./paint.js";
import { addLine, lineSheet, removeLine } from "./sheets.js";
import { t, within } from "../words.js";

/** @param {import("./desk.js").Desk} desk */
export function torqueLines(desk) {
  const list = h("ol", { class: "lines" });
  const add = h("button", {
    type: "button", id: "add-torque",
    onclick: () => during(add, () => addLine(desk, "torques", t("add a torque line"), { fastener: t("Fastener"), needs_second_check: false })),
  }, t("Add a line"));
  const node = h(
    "section", { class: "torques" },
    h("h3", null, t("Torques")),
    h("p", { class: "aside" }, t("Every value comes from this bike's own manual, with its edition and page. None is suggested here; a blank stays blank and blocks sealing.")),
    list, add,
  );
  /** @type {any[]} */
  let wrenches = [];
  /** @type {Map<number, {node: HTMLElement, sync: () => void}>} */
  const lines = new Map();

  const sync = () => {
    const ids = desk.card.torques.map((/** @type {any} */ line) => line.id);
    for (const id of [...lines.keys()]) if (!ids.includes(id)) lines.delete(id);
    for (const id of ids) if (!lines.has(id)) lines.set(id, torqueLine(desk, id, wrenches));
    const nodes = ids.map((/** @type {number} */ id) => lines.get(id)?.node);
    const moved = nodes.length !== list.children.length || nodes.some((/** @type {any} */ one, /** @type {number} */ at) => list.children[at] !== one);
    if (moved) keepFocus(list, () => replace(list, ...nodes));
    for (const line of lines.values()) line.sync();
  };
  void tools().then((found) => {
    if (!found.length) return;
    wrenches = found;
    const opened = [...lines.keys()].filter((id) => details(lines.get(id))?.open);
    lines.clear();
    sync();
    for (const id of opened) /** @type {HTMLDetailsElement} */ (details(lines.get(id))).open = true;
  });
  sync();
  return { node, sync };
}

/** @param {{node: HTMLElement}|undefined} line */
const details = (line) => line?.node.querySelector("details");

/** @param {any} tool */
function calibration({ due_on: due, out_of_calibration: out }) {
  if (!due) return t("no calibration noted");
  if (out && new Date(due) >= new Date()) return t("more than 5000 cycles since its calibration");
  return out ? t("calibration ran out on {due}", { due: day(due) }) : t("calibrated until {due}", { due: day(due) });
}

/** The shop's torque wrenches; none while the network is away. */
async function tools() {
  try {
    const page = await api.get("/api/tools/");
    return (page.results ?? page).filter((/** @type {any} */ tool) => tool.kind === "torque_wrench" && tool.in_use !== false);
  } catch (error) {
    if (error instanceof api.Offline || error instanceof api.Refused) return [];
    throw error;
  }
}

/**
 * @param {import("./desk.js").Desk} desk
 * @param {number} id
 * @param {any[]} wrenches
 */
function torqueLine(desk, id, wrenches) {
  const path = `${desk.path}torques/${id}/`;
  const sheet = lineSheet(desk, "torques", id);
  const entries = new Entries(sheet);
  const find = () => desk.card.torques.find((/** @type {any} */ line) => line.id === id) ?? {};
  const title = h("span", { class: "line-title" });
  const state = h("span", { class: "line-state" });
  const acts = h("div", { class: "line-acts" });
  const choices = wrenchChoices(find(), wrenches);
  const fields = h(
    "div", { class: "group-fields" },
    entries.text("fastener", { label: t("Fastener"), maxlength: 120 }),
    entries.number("count", { label: t("How many"), quantity: "", step: 1, hint: t("Each one is a cycle of the wrench.") }),
    entries.number("value_nm", { label: t("Torque"), quantity: "torque", step: 1, hint: t("From the manual.") }),
    entries.text("source_edition", { label: t("Manual and edition"), maxlength: 120 }),
    entries.text("source_page", { label: t("Page"), maxlength: 40 }),
    entries.choice("wrench", { label: t("Wrench"), list: true, choices }),
    entries.tick("needs_second_check", { label: t("A second person checks this one") }),
  );
  const node = h("li", { class: "line" }, h("details", null, h("summary", null, title, state), fields, acts));
  let drawn = "";

  const sending = (/** @type {string} */ verb, /** @type {string} */ what) => async () => {
    await sheet.flush();
    await desk.act(what, () => api.post(`${path}${verb}/`, {}));
  };
  const button = (/** @type {string} */ verb, /** @type {string} */ text) => {
    const one = h("button", { type: "button", id: `${verb}-${id}`, onclick: () => during(one, sending(verb, `${within(text)}: ${find().fastener}`)) },
      text, h("span", { class: "quiet" }, `: ${find().fastener}`));
    return one;
  };
  const sync = () => {
    entries.sync();
    const line = find();
    const lacks = lacking(sheet);
    const now = JSON.stringify([line, lacks]);
    if (now === drawn) return;
    drawn = now;
    replace(title, line.count > 1 ? `${line.count} × ${line.fastener}` : line.fastener ?? "");
    replace(state, lineState(line, lacks));
    node.dataset.state = line.tightened_at && (!line.needs_second_check || line.checked_at) ? "done" : "open";
    keepFocus(acts, () => replace(
      acts,
      line.tightened_at ? h("p", null, t("Tightened by {who}, {when}.", { who: line.tightened_by_name, when: moment(line.tightened_at) })) : button("tighten", t("Tightened")),
      line.checked_at ? h("p", null, t("Checked by {who}, {when}.", { who: line.checked_by_name, when: moment(line.checked_at) }))
        : line.tightened_at && line.needs_second_check ? button("check", t("Checked by a second person")) : null,
      lacks.length < 4 && sheet.value("source_edition") && sheet.value("wrench") ? h("button", {
        type: "button", class: "quiet-button", id: `spread-${id}`, onclick: () => spread(desk, sheet),
      }, t("Same manual and wrench on the open lines")) : null,
      h("button", { type: "button", class: "quiet-button", id: `drop-torque-${id}`, onclick: () => dropLine(desk, find()) },
        t("Remove the line"), h("span", { class: "quiet" }, `: ${line.fastener}`)),
    ));
  };
  sync();
  return { node, sync };
}

/**
 * The wrenches to choose from, and in any case the one that is noted: without network, or retired since.
 * @param {any} line
 * @param {any[]} wrenches
 */
function wrenchChoices(line, wrenches) {
  const choices = wrenches.map((tool) => ({ value: tool.id, text: `${tool.name} (${tool.serial}), ${calibration(tool)}` }));
  const noted = line.wrench && !wrenches.some((tool) => tool.id === line.wrench);
  return [{ value: null, text: t("not chosen") }, ...(noted ? [{ value: line.wrench, text: line.wrench_name }] : []), ...choices];
}

/**
 * Copy this line's manual and wrench to the lines that have none: one manual and one wrench serve most of a job.
 * @param {import("./desk.js").Desk} desk
 * @param {import("./sheet.js").Sheet} from
 */
function spread(desk, from) {
  for (const line of desk.card.torques) {
    const sheet = lineSheet(desk, "torques", line.id);
    for (const name of ["source_edition", "wrench"]) {
      if (!sheet.value(name)) sheet.set(name, null, { value: from.value(name) });
    }
    void sheet.flush();
  }
}

/** What a line still lacks, in words. @param {import("./sheet.js").Sheet} sheet */
function lacking(sheet) {
  const wanted = [["value_nm", t("the value")], ["source_edition", t("the manual")], ["source_page", t("the page")], ["wrench", t("the wrench")]];
  return wanted.filter(([name]) => !sheet.value(name)).map(([, word]) => word);
}

/** @param {any} line @param {string[]} lacks */
function lineState(line, lacks) {
  if (lacks.length === 4) return t("blank");
  if (lacks.length) return t("lacks {what}", { what: lacks.join(", ") });
  if (!line.tightened_at) return t("not tightened yet");
  if (line.needs_second_check && !line.checked_at) return t("tightened by {who}; wants a second check", { who: line.tightened_by_name });
  return line.checked_at ? t("tightened and checked") : t("tightened");
}

/**
 * @param {import("./desk.js").Desk} desk
 * @param {any} line
 */
async function dropLine(desk, line) {
  const reason = await ask({
    title: t("Remove {fastener}?", { fastener: line.fastener }),
    body: [h("p", null, t("Say why; the reason is kept beside the change."))],
    choices: [
      { text: t("This bike has none"), value: t("this bike has none") },
      { text: t("Not undone on this job"), value: t("not undone on this job"), main: true },
    ],
  });
  if (reason) await removeLine(desk, "torques", t("remove {fastener}", { fastener: line.fastener }), line, { reason });
}
