// @ts-check
/** Trying: rate, preload and gap under the hand, the picture follows; let go, they are the chosen ones, with a way back. */
import { h, replace } from "../dom.js";
import { t } from "../words.js";
import { Entries } from "./entry.js";
import { knobsOf } from "./knobs.js";
import { gapsPart } from "./legs.js";
import { turned } from "../parts/grips.js";
import { onRest } from "../parts/rest.js";
import { keepFocus } from "./paint.js";

/** How many steps further a hand may be soon: on its way, the nearest first, and while it has none. */
const ONWARD = [1, 2, 3, -1, 4, 5, 6, -2, 7, 8, 9, 10, -3, 11, 12, 13, 14, 15, 16];
const EITHER = Array.from({ length: 16 }, (_, index) => [index + 1, -index - 1]).flat();

/**
 * @param {import("../screens/card.js").Bench} bench
 * @param {"front"|"rear"} end
 * @param {import("./sheet.js").Sheet} sheet
 * @param {() => void} follow asks for the picture of what is being tried
 * @param {() => void} grasped says that a hand is about to try
 */
export function trial(bench, end, sheet, follow, grasped) {
  const { desk } = bench;
  const node = h("section", { class: "trial", "aria-label": t("Try rate, preload and gap") });
  /** @type {Entries} */
  let entries = new Entries(sheet);
  /** @type {import("./knobs.js").Knob[]} */
  let knobs = [];
  /** What the hand holds and has not let go. @type {Record<string, number>} */
  let held = {};
  /** Every knob's value while it does: to read them all with every step would cost the hand time. @type {Record<string, number>} */
  let inHand = {};
  /** Which knob moved last, and whether up, down, or not yet. @type {{knob: import("./knobs.js").Knob, way: number} | null} */
  let moving = null;
  /** @type {Map<string, (value: any) => void>} */
  const shown = new Map();
  let drawn = "";
  // Once parted the gaps stay so while they are tried: a slider that passes the other's value must not vanish.
  let parted = false;

  const draw = () => {
    entries = new Entries(sheet);
    shown.clear();
    const fields = knobs.length ? knobs.map(knobField) : [h("p", { class: "empty" }, t("Choose a spring below; then rate, preload and gap can be tried here, and the picture follows."))];
    keepFocus(node, () => replace(node, h("h3", null, t("Try")), h("div", { class: "knobs" }, ...fields)));
  };
  const sync = () => {
    parted ||= gapsPart(sheet.value("legs") ?? []);
    const now = knobsOf(sheet, end, desk.card, parted);
    const shape = JSON.stringify(now.map(({ path, also, label }) => [path, also, label]));
    if (shape !== drawn) {
      drawn = shape;
      knobs = now;
      draw();
    }
    entries.sync();
    tell();
  };
  /** Bring the sliders and fields to what the hand holds. */
  const tell = () => {
    rest.done();
    for (const { path } of knobs) shown.get(path)?.(value(path));
  };
  // Not with every frame: the hand looks at the picture.
  const rest = onRest(tell);

  /** @param {string} path */
  const value = (path) => held[path] ?? sheet.value(path);

  /** A number with its slider. @param {import("./knobs.js").Knob} knob */
  function knobField(knob) {
    const { path, also, label, quantity, low, high, step } = knob;
    const field = entries.number(path, {
      also, label, quantity, step, onValue: () => {
        if (knob.offList) offList();
        follow();
      },
    });
    const slider = h("input", {
      type: "range", name: `${path}.slider`, min: low, max: high, step, "aria-label": label,
      onpointerdown: () => grasp(knob), oninput: () => {
        turn(knob, Number(slider.value));
        shown.get(path)?.(value(path));
      }, onchange: () => keep(knob),
    });
    const tied = entries.tied.find((one) => one.path === path);
    shown.set(path, (now) => {
      if (typeof now !== "number") return;
      if (document.activeElement !== slider) slider.value = String(now);
      if (path in held) tied?.field.set(now);
    });
    return h("div", { class: "knob" }, field, slider);
  }

  /**
   * The hand turns a knob: the picture follows, nothing is entered yet.
   * @param {import("./knobs.js").Knob} knob
   * @param {number} now
   */
  function turn(knob, now) {
    inHand = { ...values(), ...spread(knob, now) };
    moving = { knob, way: Math.sign(now - (value(knob.path) ?? now)) };
    held = { ...held, [knob.path]: now };
    rest.moves();
    follow();
  }

  /** A hand lies on a knob: what it may turn it to can be asked before it does. @param {import("./knobs.js").Knob} knob */
  function grasp(knob) {
    moving = { knob, way: 0 };
    grasped();
  }

  /**
   * The hand lets go: what it held is an entry like any other. `more` may follow at once.
   * @param {import("./knobs.js").Knob} knob
   * @param {{more?: boolean}} [how]
   */
  function keep(knob, { more = false } = {}) {
    const now = held[knob.path];
    held = {};
    if (now !== undefined) {
      if (knob.offList) offList();
      for (const path of [knob.path, ...knob.also]) sheet.set(path, null, { value: now });
    }
    if (!more) void sheet.flush();
  }

  /** A turned rate is no spring of the list any more. */
  function offList() {
    for (const { path, also, offList: off } of knobs) {
      if (!off) continue;
      for (const at of [path, ...also].map((one) => one.replace(/spring\.\w+$/, ""))) {
        sheet.set(`${at}stock_spring`, null, { value: null });
        sheet.set(`${at}label`, null, { value: t("tried, not on the list") });
      }
    }
  }

  /**
   * A knob's value, by the path of each spring that it turns.
   * @param {import("./knobs.js").Knob} knob @param {any} now
   * @returns {Record<string, number>}
   */
  const spread = ({ path, also }, now) => (typeof now === "number" ? Object.fromEntries([path, ...also].map((one) => [one, now])) : {});

  const trying = () => Object.keys(held).length > 0;

  /** Every knob's value, those in hand as the hand has them. @returns {Record<string, number>} */
  const values = () => (trying() ? inHand : Object.assign({}, ...knobs.map((knob) => spread(knob, sheet.value(knob.path)))));

  /**
   * These values and those some steps further, the way that the hand goes first; where no hand has come yet, some around each knob.
   * @param {Record<string, number>} here
   */
  function* around(here) {
    const { knob, way } = moving ?? {};
    yield here;
    if (knob) yield* further(here, knob, way ? ONWARD.map((steps) => steps * way) : EITHER);
    else for (const one of knobs) yield* further(here, one, EITHER.slice(0, 8));
  }

  /** The values so many steps further on one knob. @param {Record<string, number>} here @param {import("./knobs.js").Knob} knob @param {number[]} steps */
  function* further(here, knob, steps) {
    for (const each of knob.path in here ? steps : []) yield { ...here, ...spread(knob, turned(knob, here[knob.path], each)) };
  }

  sync();
  return { node, sync, value, values, around, grasp, turn, keep, knobs: () => knobs, trying };
}
