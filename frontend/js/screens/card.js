// @ts-check
/** The job card: steps along the edge, the step in hand filling the screen, the picture in sight. */
import { h, replace } from "../dom.js";
import { open as built } from "../card/built.js";
import { open as chosen } from "../card/chosen.js";
import { askWhich } from "../card/clash.js";
import { Desk } from "../card/desk.js";
import { endSwitch, endsOf } from "../card/ends.js";
import { open as handOver } from "../card/hand-over.js";
import { open as measured } from "../card/measured.js";
import { keepFocus, painter } from "../card/paint.js";
import { open as received } from "../card/received.js";
import { open as remeasured } from "../card/remeasured.js";
import { open as seal } from "../card/seal.js";
import { fieldsSheet, reopenSheets } from "../card/sheets.js";
import { panel } from "../card/view.js";
import { STEPS } from "../card/words.js";
import { t, tn } from "../words.js";

/**
 * @typedef {import("../card/view.js").Sight} Sight
 * @typedef {{node: HTMLElement, news: (news: import("../card/desk.js").News | "end" | "units") => void, close?: () => void,
 *   sight?: (end: "front"|"rear") => Sight, both?: boolean,
 *   after?: HTMLElement}} StepView  `after`: what may stand below the way on;
 *   `sight`: what its end shows; without it there is no picture; `both`: both ends are in hand at once
 * @typedef {{desk: Desk, app: any, end: "front"|"rear", takeEnd: (end: "front"|"rear") => void, look: () => void,
 *   follow: (end: "front"|"rear", side: any, picture: string, how?: {tried?: boolean}) => void}} Bench `look`: bring the pictures up to date; `follow`: only what a drag moves
 */

/** @type {Record<string, (bench: Bench) => StepView>} */
const OPENERS = { received, measured, chosen, built, remeasured, handed_over: handOver, sealed: seal };

/**
 * @param {HTMLElement} root
 * @param {Record<string, string>} params
 * @param {any} app
 */
export async function open(root, params, app) {
  const desk = new Desk(Number(params.id), { person: app.person, say: app.say, askWhich });
  await desk.load();
  reopenSheets(desk);
  const frame = new Frame(root, desk, app);
  frame.show(params.step ?? desk.card.step);
  void desk.flush();
  return { move: (/** @type {any} */ next) => frame.move(next), close: () => frame.close() };
}

class Frame {
  /**
   * @param {HTMLElement} root
   * @param {Desk} desk
   * @param {any} app
   */
  constructor(root, desk, app) {
    this.desk = desk;
    this.app = app;
    this.key = "";
    /** @type {StepView|null} */
    this.step = null;
    /** @type {Bench} */
    this.bench = {
      desk, app, end: endsOf(desk.card)[0], takeEnd: (end) => this.takeEnd(end), look: () => this.look(),
      follow: (end, side, picture, how) => this.panels[end].follow(side, picture, how),
    };
    this.head = h("header", { class: "card-head" });
    this.rail = h("nav", { class: "card-steps", "aria-label": t("Steps of the job") });
    this.place = h("div", { class: "card-step" });
    this.status = h("p", { class: "card-state", role: "status" });
    this.undo = h("span", { class: "undo-place" });
    this.panels = Object.fromEntries(endsOf(desk.card).map((end) => [end, panel(end)]));
    this.sight = h("div", { class: "picture-of" });
    this.view = h("div", { class: "card-view" }, this.sight, ...Object.values(this.panels).map((one) => one.node));
    // On a phone the verdict scrolls away and figures and picture stay.
    this.watch = new ResizeObserver(() => this.#lead());
    this.watch.observe(this.view);
    // Only once it is laid out, and again when the tablet is turned, does the strip know its width.
    this.turned = new ResizeObserver(() => this.#strip());
    this.turned.observe(this.rail);
    root.classList.add("card");
    root.dataset.unitAware = "";
    root.addEventListener("unitschange", () => {
      this.heard.add("units");
      this.paint();
    });
    this.redraw = () => void desk.redraw();
    document.addEventListener("unitskept", this.redraw);
    root.append(this.head, this.rail, this.view, this.place);
    this.paint = painter(() => this.#paint());
    /** @type {Set<any>} */
    this.heard = new Set();
    this.unlisten = desk.listen((news) => {
      this.heard.add(news);
      this.paint();
    });
    this.hidden = () => {
      if (document.visibilityState === "hidden") void desk.flush();
    };
    document.addEventListener("visibilitychange", this.hidden);
  }

  /** @param {Record<string, string>} params */
  move(params) {
    void this.desk.flush();
    this.show(params.step ?? this.desk.card.step);
    this.app.title(this.place.querySelector("h2")?.textContent ?? "");
    scrollTo(0, 0);
    this.place.querySelector("h2")?.focus({ preventScroll: true });
  }

  /** @param {string} key */
  show(key) {
    this.step?.close?.();
    this.key = OPENERS[key] ? key : "received";
    const { name, does } = STEPS[this.#place()];
    const step = OPENERS[this.key](this.bench);
    this.step = step;
    replace(
      this.place,
      h("div", { class: "step-head" }, h("h2", { tabindex: "-1" }, name), h("p", null, does), this.status, this.undo),
      this.#lockLine(), step.node, this.#onward(), step.after ?? null,
    );
    this.place.dataset.step = this.key;
    this.#paint();
  }

  /** @param {"front"|"rear"} end */
  takeEnd(end) {
    if (this.bench.end === end) return;
    this.bench.end = end;
    this.heard.add("end");
    this.#paint();
  }

  /** Bring the pictures up to what the step says. */
  look() {
    const sight = this.step?.sight;
    const both = Boolean(this.step?.both) && Object.keys(this.panels).length > 1;
    this.view.hidden = !sight;
    this.view.dataset.ends = both ? "both" : "one";
    this.#drawSwitch(both);
    for (const [end, one] of Object.entries(this.panels)) {
      one.node.classList.toggle("in-hand", end === this.bench.end);
      if (sight) one.paint(sight.call(this.step, /** @type {"front"|"rear"} */ (end)));
    }
  }

  /** With both ends in hand, one picture at a time: of the end whose field is typed in, or that is asked for here. @param {boolean} both */
  #drawSwitch(both) {
    if (!both) replace(this.sight);
    else if (!this.sight.childElementCount) replace(this.sight, endSwitch(this.bench, t("Picture of")));
    for (const radio of this.sight.querySelectorAll("input")) radio.checked = radio.value === this.bench.end;
  }

  close() {
    this.step?.close?.();
    this.unlisten();
    this.watch.disconnect();
    this.turned.disconnect();
    document.removeEventListener("visibilitychange", this.hidden);
    document.removeEventListener("unitskept", this.redraw);
    void this.desk.close();
  }

  #lead() {
    const figures = this.view.querySelector(".in-hand .figures");
    const lead = figures ? figures.getBoundingClientRect().top - this.view.getBoundingClientRect().top : 0;
    this.view.style.setProperty("--lead", `${Math.round(lead)}px`);
  }

  #place() {
    return STEPS.findIndex((step) => step.key === this.key);
  }

  #paint() {
    const heard = [...this.heard];
    this.heard.clear();
    this.#drawHead();
    this.#drawRail();
    for (const news of heard) this.step?.news(news);
    for (const lock of this.place.querySelectorAll("fieldset.lock")) /** @type {HTMLFieldSetElement} */ (lock).disabled = !this.desk.open;
    this.look();
  }

  #drawHead() {
    const { card } = this.desk;
    const bike = card.bike?.title ?? (card.loose_description || (card.loose === "fork" ? t("Loose fork") : t("Loose shock")));
    const people = card.customer
      ? [card.customer.name, card.rider && card.rider.name !== card.customer.name ? t("rider {name}", { name: card.rider.name }) : null, card.former_owner ? t("had the bike before") : null]
      : [t("A job for an owner before, whom a manager can look up")];
    keepFocus(this.head, () => replace(
      this.head,
      h("h1", null, h("span", { class: "card-number" }, card.number), " ", bike),
      h("p", { class: "card-people" }, people.filter(Boolean).join(", "), card.bike?.plate ? ` · ${card.bike.plate}` : ""),
    ));
    const state = this.#state();
    if (this.status.textContent !== state) replace(this.status, state);
    const { back } = this.desk;
    keepFocus(this.undo, () => replace(this.undo, back && this.desk.open ? h("button", {
      type: "button", id: "take-back", class: "take-back", onclick: () => this.desk.takeBack(),
    }, t("Undo: {label}", { label: back.label })) : null));
  }

  #state() {
    const { waiting, going, stuck, offline } = this.desk;
    const entries = (/** @type {number} */ count) => tn(count, "{n} entry", "{n} entries");
    if (offline) return waiting ? t("No network. {waiting} kept on this device; sent when it is back.", { waiting: entries(waiting) }) : t("No network. What you type is kept on this device.");
    if (going) return t("{waiting} being sent.", { waiting: entries(going) });
    return stuck ? tn(stuck, "{n} entry needs your eye; kept on this device.", "{n} entries need your eye; kept on this device.") : t("All saved.");
  }

  #drawRail() {
    const { card, id } = this.desk;
    const at = STEPS.findIndex((step) => step.key === card.step);
    const notes = STEPS.map((step, index) => {
      const left = card.blockers.filter((/** @type {any} */ one) => one.step === step.key).length;
      return left && index < at ? t("{n} open", { n: left }) : index < at || card.record ? t("done") : "";
    });
    const state = JSON.stringify([at, notes, this.key]);
    if (this.rail.dataset.state === state) return;
    this.rail.dataset.state = state;
    keepFocus(this.rail, () => replace(this.rail, h("ol", null, ...STEPS.map((step, index) =>
      h("li", { class: index < at ? "is-done" : index === at ? "is-now" : "" }, h("a", {
        id: `to-${step.key}`, href: `#/cards/${id}/${step.key}`, "aria-current": step.key === this.key ? "step" : null,
      }, h("span", { class: "step-number", "aria-hidden": "true" }, String(index + 1)), h("span", { class: "step-name" }, step.name),
      notes[index] ? h("span", { class: "step-note" }, notes[index]) : null))))));
    this.#strip();
  }

  /** On a phone the steps are a strip: the one in hand is brought into it. */
  #strip() {
    const strip = this.rail.firstElementChild;
    const here = /** @type {HTMLElement|null} */ (this.rail.querySelector("[aria-current]"));
    if (strip && here) strip.scrollLeft = here.offsetLeft - strip.clientWidth / 3;
  }

  #lockLine() {
    const { card } = this.desk;
    if (card.record) return h("p", { class: "lock-line" }, t("Sealed as record {number}. What is here stays as it is; corrections are amendments, at the last step.", { number: card.record.number }));
    if (!card.may_change) return h("p", { class: "lock-line" }, t("This card belongs to {shop}: you may read it.", { shop: card.shop_name }));
    return null;
  }

  /** The way on, and back. */
  #onward() {
    const place = this.#place();
    const [before, after] = [STEPS[place - 1], STEPS[place + 1]];
    const to = (/** @type {any} */ step) => `#/cards/${this.desk.id}/${step.key}`;
    return h(
      "div", { class: "onward" },
      before ? h("a", { class: "button", href: to(before) }, t("Back: {name}", { name: before.name })) : null,
      after ? h("a", { class: "button main", href: to(after), onclick: () => this.#reach(place + 1) }, t("On: {name}", { name: after.name })) : null,
    );
  }

  /** The card stands at the furthest step that was reached. @param {number} place */
  #reach(place) {
    const at = STEPS.findIndex((step) => step.key === this.desk.card.step);
    if (place <= at || !this.desk.open || STEPS[place].key === "sealed") return;
    fieldsSheet(this.desk).set("step", null, { value: STEPS[place].key });
  }
}
