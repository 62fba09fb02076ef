// @ts-check
/** Built: cautions first, then what was fitted, filled, given back and tightened. */
import * as api from "../api.js";
import { h, replace } from "../dom.js";
import { during } from "../parts/busy.js";
import { cautionList, unread } from "./cautions.js";
import { endSwitch, endsOf, lockable } from "./ends.js";
import { partLines } from "./part-lines.js";
import { photoPlace } from "./photos.js";
import { settingForm } from "./setting-form.js";
import { sitting } from "./sitting.js";
import { newest, sideSight } from "./sights.js";
import { torqueLines } from "./torque-lines.js";
import { ENDS_WITHIN, END_NAMES } from "./words.js";
import { t, tn } from "../words.js";

/** @param {import("../screens/card.js").Bench} bench @returns {import("../screens/card.js").StepView} */
export function open(bench) {
  const { desk } = bench;
  const cautions = cautionList(desk, "built");
  const gate = h("p", { class: "gate", role: "status" });
  const chooser = h("div");
  const place = h("div", { class: "end-form" });
  const parts = partLines(desk);
  const torques = torqueLines(desk);
  const photos = photoPlace(desk, "part");
  const work = h("fieldset", { class: "work" }, lockable(place, parts.node, torques.node));
  /** @type {Record<string, {node: HTMLElement, sync: () => void}>} */
  const forms = {};
  let shown = "";

  const rebound = h("p", { class: "said rebound" });
  const tellRebound = () => {
    const text = desk.sides?.[desk.card.settings.built?.[bench.end] ? "built" : "chosen"]?.[bench.end]?.damping?.text ?? "";
    if (rebound.textContent !== text) rebound.textContent = text;
    rebound.hidden = !text;
  };
  const show = () => {
    tellRebound();
    const now = `${bench.end}${started(desk, bench.end)}`;
    if (now === shown) return;
    shown = now;
    replace(chooser, endSwitch(bench));
    if (started(desk, bench.end)) forms[bench.end] ??= settingForm(desk, "built", bench.end);
    replace(place, forms[bench.end]?.node ?? startPlace(desk, bench.end));
  };
  const lock = () => {
    const left = desk.open ? unread(desk, "built") : 0;
    work.disabled = left > 0;
    const text = left ? tn(left, "Read the caution above first; then the fields below can be used.", "Read the {n} cautions above first; then the fields below can be used.") : "";
    if (gate.textContent !== text) gate.textContent = text;
    gate.hidden = !left;
  };
  const sits = sitting(desk, "built");
  show();
  lock();
  return {
    node: h("div", { class: "building" }, cautions.node, cautions.past, gate, chooser, rebound, work, photos.node, sits.node),
    sight: (end) => {
      const stage = newest(desk, ["built", "chosen", "received"], end);
      const also = stage === "received" ? undefined : { label: t("as received"), side: desk.sides?.received?.[end] };
      return { ...sideSight(bench, stage, end), also };
    },
    news: () => {
      cautions.sync();
      lock();
      show();
      for (const end of endsOf(desk.card)) forms[end]?.sync();
      parts.sync();
      torques.sync();
      sits.sync();
      photos.sync();
    },
  };
}

/**
 * Whether the end has a built setting, on the server or begun on this device.
 * @param {import("./desk.js").Desk} desk
 * @param {string} end
 */
function started(desk, end) {
  return Boolean(desk.card.settings.built?.[end] || desk.sheets.get(`setting.built.${end}`)?.waiting);
}

/**
 * Before anything is noted as built: start from what was chosen.
 * @param {import("./desk.js").Desk} desk
 * @param {"front"|"rear"} end
 */
function startPlace(desk, end) {
  return h(
    "div", { class: "empty-place" },
    h("p", null, t("{end} as built: what was really fitted, with the gap that was really read. It is what the next shop will rely on.", { end: END_NAMES[end] })),
    startButton(desk, end),
  );
}

/**
 * @param {import("./desk.js").Desk} desk
 * @param {"front"|"rear"} end
 */
function startButton(desk, end) {
  const { chosen, received } = desk.card.settings;
  const found = received?.[end]?.body;
  if (!chosen?.[end] && !found) {
    return h("a", { class: "button", href: `#/cards/${desk.id}/received` }, t("Nothing is noted of this end yet: begin at As received"));
  }
  const start = () => (chosen?.[end] ? api.post(`${desk.path}as-built/`, { end })
    : api.put(`${desk.path}settings/built/${end}/`, found, { fresh: true }));
  const button = h("button", {
    type: "button", class: "main", id: `start-built-${end}`,
    onclick: () => during(button, () => desk.act(t("start {end} as built", { end: ENDS_WITHIN[end] }), start)),
  }, chosen?.[end] ? t("Start from what was chosen") : t("Nothing changed here: start as received"));
  return button;
}
