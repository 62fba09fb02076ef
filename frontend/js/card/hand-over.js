// @ts-check
/** Handed over: what the rider is told, how the bike leaves, when it comes back, and who answers for it. */
import * as api from "../api.js";
import { h, replace } from "../dom.js";
import { during } from "../parts/busy.js";
import { moment } from "../parts/dates.js";
import { whoIsHere } from "../store.js";
import { cautionList } from "./cautions.js";
import { inWords } from "./clash.js";
import { endsOf, lockable } from "./ends.js";
import { Entries } from "./entry.js";
import { keepFocus } from "./paint.js";
import { group } from "./setting-form.js";
import { fieldsSheet } from "./sheets.js";
import { sitting } from "./sitting.js";
import { ADJUSTERS, END_NAMES, SIDES, factName, springKind } from "./words.js";
import { rateText } from "./ranking.js";
import { t, within } from "../words.js";

const PARTS = [
  { part: "work", name: t("Work done"), says: t("The work on this card was done as noted, to the maker's manual.") },
  { part: "hand_over", name: t("Handed over and explained"), says: t("The rider was told what was changed and what to look out for on the first ride.") },
];

/** @param {import("../screens/card.js").Bench} bench @returns {import("../screens/card.js").StepView} */
export function open(bench) {
  const { desk } = bench;
  const sheet = fieldsSheet(desk);
  const entries = new Entries(sheet);
  const cautions = cautionList(desk, "handed_over");
  const left = h("section", { class: "left-as" });
  const signs = h("section", { class: "sign-offs" });
  let drawn = "";
  const draft = h("button", {
    type: "button", id: "draft-explanation", onclick: () => during(draft, async () => {
      try {
        sheet.set("explanation", null, { value: (await api.get(`${desk.path}draft/`)).text });
        entries.tied.find((one) => one.path === "explanation")?.field.set(sheet.value("explanation"));
        replace(lack);
      } catch (error) {
        if (error instanceof api.Offline) replace(lack, t("No network: worked out when it is back."));
        else if (error instanceof api.Refused) replace(lack, error.message);
        else throw error;
      }
    }),
  }, t("Draft it from the numbers"));
  const lack = h("p", { class: "soft", role: "status" });
  const draw = () => {
    const now = JSON.stringify([whoIsHere()?.units, desk.card.settings.built, desk.card.sign_offs, desk.open]);
    if (now === drawn) return;
    drawn = now;
    replace(left, h("h3", null, t("Settings as left")), ...endsOf(desk.card).map((end) => settingsLeft(desk, end)));
    keepFocus(signs, () => replace(signs, h("h3", null, t("Signed off")), ...PARTS.map((one) => signOff(desk, one))));
  };
  draw();
  const sits = sitting(desk, "left");
  const node = h(
    "div", { class: "handing-over" }, cautions.node, cautions.past,
    lockable(group(t("What the rider is told"),
      entries.text("explanation", { lines: 7, label: t("In plain words"), hint: t("Stands first on the customer's page and on the record. Read it through: it is you who says it.") }), draft, lack)),
    left, sits.node,
    lockable(group(t("Next service"),
      entries.text("next_service_on", { type: "date", label: t("Due on"), empty: null }),
      entries.text("next_service_note", { label: t("Or after"), hint: t("Hours, distance, or what to watch."), maxlength: 200 })),
    group(t("For the workshop only"), entries.text("internal_notes", { lines: 3, label: t("Notes for the workshop"), hint: t("Never on the customer's page.") })), signs),
  );
  return {
    node,
    news: () => {
      cautions.sync();
      entries.sync();
      draw();
      sits.sync();
    },
  };
}

/**
 * The leg that carries a spring, or the shock.
 * @param {string} end
 * @param {any} body
 */
function carrier(end, body) {
  return end === "rear" ? body : ((body.legs ?? []).find((/** @type {any} */ leg) => leg?.spring) ?? body.legs?.[0]);
}

/**
 * @param {import("./desk.js").Desk} desk
 * @param {"front"|"rear"} end
 */
function settingsLeft(desk, end) {
  const body = desk.card.settings.built?.[end]?.body;
  if (!body) return h("p", { class: "empty" }, t("{end}: nothing noted as built yet. What is noted there is what the rider gets told here.", { end: END_NAMES[end] }));
  const held = carrier(end, body) ?? {};
  const names = end === "front" ? ["preload_mm", "air_gap_mm", "pressure_kpa", "spacer_mm"] : ["preload_mm"];
  const own = end === "front" ? ["fork_height_mm", "tyre_pressure_kpa", "oil_grade", "oil_batch", "oil_cm3_per_leg"] : ["ride_height_mm", "tyre_pressure_kpa"];
  const rows = [
    [t("spring"), held.spring ? rateText(held.spring, desk.sides?.built?.[end]?.overall_n_per_mm) : springKind(null)],
    ...names.map((name) => [factName(name), inWords(name, held[name])]),
    ...own.map((name) => [factName(name), inWords(name, body[name])]),
    ...(body.clickers ?? []).map((/** @type {any} */ one) => [clickerName(one), clickerText(one)]),
  ].filter(([, value]) => value !== "–");
  return h("table", { class: "fact-table" }, h("caption", null, END_NAMES[end]), h("tbody", null, ...rows.map(([name, value]) =>
    h("tr", null, h("th", { scope: "row" }, name), h("td", null, value)))));
}

/** @param {any} one */
const clickerName = (one) => `${ADJUSTERS[one.adjuster] ?? t("clicker")}${one.leg ? `, ${SIDES[one.leg] ?? one.leg}` : ""}`;

/** @param {any} one */
const clickerText = (one) => t("{count} {unit} from {where}", { count: one.position ?? "–", unit: t(one.unit), where: t((one.counted_from ?? "").replace("_", " ")) });

/**
 * @param {import("./desk.js").Desk} desk
 * @param {{part: string, name: string, says: string}} one
 */
function signOff(desk, { part, name, says }) {
  const signed = desk.card.sign_offs.find((/** @type {any} */ each) => each.part === part);
  if (signed) return h("p", { class: "signed" }, h("b", null, name), ` – ${signed.statement} `, h("span", null, `${signed.by_name}, ${moment(signed.at)}`));
  const button = h("button", {
    type: "button", id: `sign-${part}`,
    onclick: () => during(button, () => desk.act(t("sign off: {what}", { what: within(name) }), () => api.post(`${desk.path}sign-offs/`, { part }))),
  }, t("Sign off: {what}", { what: within(name) }));
  return h("div", { class: "sign-off" }, h("p", null, says), button);
}
