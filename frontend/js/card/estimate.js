// @ts-check
/** The estimate: its lines, whether work waits for the customer's yes, the link by which he gives it, and his answer. */
import * as api from "../api.js";
import { h, replace } from "../dom.js";
import { during } from "../parts/busy.js";
import { day, moment } from "../parts/dates.js";
import { choiceField, numberField, textField, tickField } from "../parts/field.js";
import { problemList } from "../parts/problems.js";
import { draft } from "../store.js";
import { freshLink } from "./links.js";
import { keepFocus } from "./paint.js";
import { t, tn, written } from "../words.js";

const KINDS = [{ value: "labour", text: t("labour") }, { value: "parts", text: t("parts") }];
/** @type {Record<string, string>} */
const STATES = {
  none: t("No estimate written."), not_asked: t("Written, and the customer not asked yet."), asked: t("The customer has been asked and has not answered."),
  approved: t("The customer approved it as it stands."), declined: t("The customer declined it."),
  changed: t("Changed since the customer answered: it needs a new answer."),
};

/** @param {import("./desk.js").Desk} desk */
export function estimatePlace(desk) {
  const kept = draft(`card.${desk.id}.estimate`);
  const state = h("span", { class: "line-state" });
  const body = h("div", { class: "estimate" });
  const fresh = h("div", { class: "fresh-link", role: "status" });
  const problems = problemList();
  let drawn = "";
  /** @type {{kind: any, text: any, amount: any}[]} */
  let rows = [];
  /** @type {any} */
  let waits = null;
  const node = h("details", { class: "estimate-place" }, h("summary", null, h("span", { class: "line-title" }, t("Estimate")), state), body);

  const digits = () => desk.card.estimate.minor_digits;
  const minor = (/** @type {number|null} */ value) => Math.round((value ?? 0) * 10 ** digits());
  const typed = () => ({
    needs_approval: waits.value,
    lines: rows.map((row) => ({ kind: row.kind.value, text: row.text.value, amount_minor: minor(row.amount.value) })),
  });
  const keep = () => {
    kept.write(typed());
    drawSum();
  };
  const sum = h("p", { class: "estimate-sum" });
  const drawSum = () => replace(sum, t("Together"), " ", h("b", null, money(typed().lines.reduce((all, line) => all + line.amount_minor, 0), desk.card.estimate)));

  /** @param {any} line */
  function row(line) {
    const { currency } = desk.card.estimate;
    const one = {
      kind: choiceField({ name: "kind", label: t("Kind"), choices: KINDS, value: line.kind, onChange: keep }),
      text: textField({ name: "text", label: t("What for"), value: line.text, maxlength: 200, onChange: keep }),
      amount: numberField({
        name: "amount", label: t("Amount"), quantity: currency, decimals: digits(), step: 5,
        value: line.amount_minor === null ? null : line.amount_minor / 10 ** digits(), onChange: keep,
      }),
    };
    rows.push(one);
    const item = h("li", { class: "line" }, h("div", { class: "group-fields" }, one.text.element, one.kind.element, one.amount.element),
      h("div", { class: "line-acts" }, h("button", { type: "button", class: "quiet-button", onclick: () => {
        rows = rows.filter((each) => each !== one);
        item.remove();
        keep();
      } }, t("Remove the line"))));
    return item;
  }

  async function save() {
    const { version } = desk.card.estimate;
    const done = await desk.act(t("save the estimate"), () => api.put(`${desk.path}estimate/`, typed(), version === null ? { fresh: true } : { version }), {
      onProblems: (found) => replace(problems, ...found.map((one) => h("p", { class: "problem" }, one.text))),
    });
    if (!done) return;
    kept.drop();
    draw(true);
  }

  async function askNow() {
    const made = await desk.act(t("ask the customer"), () => api.post(`${desk.path}estimate/asks/`, {}));
    if (!made) return;
    await desk.reload();
    draw(true);
    replace(fresh, ...freshLink(new URL(made.url, location.origin).href, "estimate"));
  }

  /** @param {boolean} [anew] */
  function draw(anew = false) {
    const { estimate } = desk.card;
    if (!estimate) {
      replace(state, t("kept from you: a former owner’s"));
      return;
    }
    replace(state, estimate.lines.length ? `${money(estimate.total_minor, estimate)} · ${STATES[estimate.state]}` : STATES[estimate.state]);
    const now = JSON.stringify([estimate, desk.open]);
    if (now === drawn && !anew) return;
    drawn = now;
    rows = [];
    const shown = (desk.open && kept.read()) || estimate;
    const list = h("ol", { class: "lines" }, ...shown.lines.map(row));
    waits = tickField({ name: "needs_approval", label: t("Work waits for the customer’s approval"), value: shown.needs_approval, hint: t("Until then it is not signed off and not sealed."), onChange: keep });
    const add = h("button", { type: "button", id: "add-estimate-line", onclick: () => {
      list.append(row({ kind: "labour", text: "", amount_minor: null }));
      rows.at(-1)?.text.focus();
    } }, t("Add a line"));
    const store = h("button", { type: "button", class: "main", id: "save-estimate", onclick: () => during(store, save) }, t("Save the estimate"));
    const send = h("button", { type: "button", id: "ask-approval", onclick: () => during(send, askNow) }, t("Make the customer’s link"));
    keepFocus(body, () => replace(body, ...(desk.open
      ? [waits.element, list, h("div", { class: "line-acts" }, add), sum, problems, h("div", { class: "line-acts" }, store, estimate.lines.length ? send : null),
        h("p", { class: "aside" }, t("The link shows the estimate as it is saved, on the customer’s phone, where he approves or declines. Saving and sending need the network.")), fresh]
      : estimate.lines.map((/** @type {any} */ line) => h("p", null, `${line.text} (${KINDS.find((each) => each.value === line.kind)?.text ?? line.kind}): `, h("b", null, money(line.amount_minor, estimate))))),
    asks(desk, estimate)));
    drawSum();
  }
  draw();
  return { node, sync: () => draw() };
}

/**
 * @param {import("./desk.js").Desk} desk
 * @param {any} estimate
 */
function asks(desk, estimate) {
  return h("ul", { class: "links" }, ...estimate.asks.map((/** @type {any} */ one) => {
    const revoke = h("button", {
      type: "button", class: "quiet-button",
      onclick: () => during(revoke, () => desk.act(t("revoke the link"), () => api.post(`${desk.path}estimate/asks/${one.id}/revoke/`, {}))),
    }, t("Revoke"));
    const answered = { when: moment(one.answered_at), where: one.answered_from };
    const said = one.answer === "approved" ? one.answered_from ? t("approved on {when} from {where}", answered) : t("approved on {when}", answered)
      : one.answer ? one.answered_from ? t("declined on {when} from {where}", answered) : t("declined on {when}", answered)
      : one.revoked_at ? t("revoked") : new Date(one.expires_at) < new Date() ? t("run out") : t("open until {when}", { when: day(one.expires_at) });
    return h("li", null, h("span", null, tn(one.openings, "{sum}, asked by {who}: {said}; opened {n} time", "{sum}, asked by {who}: {said}; opened {n} times", { sum: money(one.total_minor, { ...estimate, currency: one.currency }), who: one.made_by_name, said })),
      one.answer || one.revoked_at || !desk.mine ? null : revoke);
  }));
}

/** @param {number} minor @param {{currency: string, minor_digits: number}} in_ */
function money(minor, { currency, minor_digits: digits }) {
  return `${written((minor / 10 ** digits).toFixed(digits))} ${currency}`;
}
