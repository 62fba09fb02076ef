// @ts-check
/**
 * The fields of every form: a label, a big entry, and one line under it that carries the hint, the problem or the
 * question. The line's room is always there, so that nothing jumps.
 *
 * @typedef {{element: HTMLElement, name: string, value: any, set: (value: any) => void,
 *            problem: (text: string | null, at?: string) => void, focus: () => void, unclear: () => boolean, secret?: boolean,
 *            text?: () => string, retype?: (text: string) => void}} Field
 *   `value` is metric; `at` of a problem: the place as the server names it, for a field of many cells; `unclear`: something is typed that has no value yet (no number, an unanswered question); `secret`: never kept on
 *   the device; `text` and `retype`: what stands in the entry, for what is unclear
 * @typedef {{from: "measured" | "stamped" | "manual" | "assumed" | "computed", edition?: string, page?: string}} Origin
 */

import { freshId, h, replace } from "../dom.js";
import { bandOf, moved, nextUnit, read, inUnit, stepOf, unitOf, unitsOf } from "../units.js";
import { originMark } from "./origin.js";
import { t, written } from "../words.js";

/**
 * The line under an entry.
 *
 * @param {string} hint
 */
export function noteLine(hint) {
  const id = freshId("note");
  const element = h("div", { class: "note", id, "aria-live": "polite" }, hint);
  return {
    id,
    element,
    calm: () => {
      if (!element.matches(".problem, .question")) return;
      element.classList.remove("problem", "question");
      replace(element, hint);
    },
    /** @param {string} text */
    problem: (text) => {
      element.classList.remove("question");
      element.classList.add("problem");
      replace(element, text);
    },
    /** @param {string} text @param {HTMLElement[]} buttons */
    question: (text, buttons) => {
      element.classList.remove("problem");
      element.classList.add("question");
      replace(element, h("span", null, text), ...buttons);
    },
  };
}

/**
 * A number with its unit, ± steps and, where the fact has an origin, the origin's mark.
 *
 * @param {{name: string, label: string, quantity: string, value?: number | null,
 *          band?: string | import("../units.js").Band | null, step?: number, start?: number | null, hint?: string,
 *          decimals?: number, origin?: Origin | null, onOrigin?: (origin: Origin) => void,
 *          onChange?: (value: number | null) => void}} options
 *   `quantity`: one of the units' quantities, or a unit of its own ("°", "%"); `band`: a name in the table of bands;
 *   `step`: of the ± buttons, metric; `start`: where the first step goes when the field is empty
 * @returns {Field}
 */
export function numberField({
  name, label, quantity, value = null, band = null, step = 1, start = null, hint = "", decimals,
  origin, onOrigin, onChange = () => {},
}) {
  const limits = typeof band === "string" ? bandOf(band) : band;
  const note = noteLine(hint);
  const id = freshId("field");
  let held = value;
  let unclear = false;

  const input = h("input", {
    id, name, type: "text", inputmode: "decimal", autocomplete: "off", "aria-describedby": note.id, "data-unit-aware": true,
    oninput: () => take(false),
    onchange: () => take(true),
    onkeydown: (/** @type {KeyboardEvent} */ event) => {
      if (event.key !== "ArrowUp" && event.key !== "ArrowDown") return;
      event.preventDefault();
      nudge(event.key === "ArrowUp" ? 1 : -1);
    },
    onunitschange: () => {
      if (!unclear) draw();
      labelUnits();
    },
  });
  const less = h("button", { type: "button", class: "step", tabindex: "-1", onclick: () => nudge(-1) }, "−");
  const more = h("button", { type: "button", class: "step", tabindex: "-1", onclick: () => nudge(1) }, "+");
  const unit = unitsOf(quantity).length > 1
    ? h("button", { type: "button", class: "unit", onclick: () => nextUnit(quantity) })
    : h("span", { class: "unit" });

  function draw() {
    input.value = held === null ? "" : inUnit(held, quantity, { decimals }).text;
  }

  function labelUnits() {
    const here = unitOf(quantity);
    replace(unit, here, h("span", { class: "quiet" }, unit.localName === "button" ? t(", unit of {label}: change", { label }) : ""));
    const size = `${written(stepOf(step, quantity))} ${here}`;
    less.setAttribute("aria-label", t("{label}: {size} less", { label, size }));
    more.setAttribute("aria-label", t("{label}: {size} more", { label, size }));
  }

  /** @param {number | null} next */
  function hold(next) {
    unclear = false;
    if (next === held) return;
    held = next;
    onChange(held);
  }

  /** @param {boolean} done whether the typing is over: only then is anything asked */
  function take(done) {
    input.removeAttribute("aria-invalid");
    const reading = read(input.value, quantity, { band: limits });
    if ("value" in reading) {
      note.calm();
      hold(reading.value);
      // What was typed is echoed with the language's decimal sign, in the unit in hand.
      if (done && held !== null) input.value = /[^\d.,+−-]/.test(input.value.trim()) ? inUnit(held, quantity, { decimals }).text : echo(input.value);
      return;
    }
    const asTyped = "choices" in reading ? reading.choices.find((choice) => choice.asTyped) : undefined;
    if (asTyped) hold(asTyped.value);
    else unclear = true;
    if (!done) return;
    if ("problem" in reading) {
      problem(reading.problem);
      return;
    }
    note.question(reading.ask, reading.choices.map((choice) => h("button", { type: "button", onclick: () => {
      hold(choice.value);
      note.calm();
      draw();
      tellForm();
      input.focus();
    } }, choice.text)));
  }

  /** @param {number} direction */
  function nudge(direction) {
    const from = held ?? start;
    if (from === null) {
      input.focus();
      return;
    }
    hold(held === null ? from : moved(from, direction, step, quantity));
    note.calm();
    input.removeAttribute("aria-invalid");
    draw();
    tellForm();
  }

  // A form keeps a draft of what changes in it; a step or an answered question changes it without typing.
  function tellForm() {
    more.dispatchEvent(new Event("change", { bubbles: true }));
  }

  /** @param {string | null} text */
  function problem(text) {
    if (text === null) {
      note.calm();
      input.removeAttribute("aria-invalid");
    } else {
      note.problem(text);
      input.setAttribute("aria-invalid", "true");
    }
  }

  draw();
  labelUnits();
  const mark = origin === undefined ? null : originMark({ label, origin, onOrigin });
  return {
    element: h(
      "div", { class: "field number" },
      h("div", { class: "field-head" }, h("label", { for: id }, label), mark),
      h("div", { class: unitOf(quantity) ? "entry" : "entry bare" }, less, input, unitOf(quantity) ? unit : null, more),
      note.element,
    ),
    name,
    get value() {
      return held;
    },
    set: (next) => {
      held = next ?? null;
      unclear = false;
      problem(null);
      draw();
    },
    problem,
    focus: () => input.focus(),
    unclear: () => unclear,
    text: () => input.value,
    retype: (text) => {
      input.value = text;
      take(true);
    },
  };
}

/** @param {string} typed */
function echo(typed) {
  const digits = typed.trim();
  return /[.,].*[.,]/.test(digits) ? digits : written(digits.replace(",", "."));
}

/**
 * Words: one line, or several with `lines`.
 *
 * @param {{name: string, label: string, value?: string | null, hint?: string, lines?: number, type?: string,
 *          autocomplete?: string, required?: boolean, maxlength?: number, suggestions?: string[], inputmode?: "numeric",
 *          onChange?: (value: string) => void}} options
 * @returns {Field}
 */
export function textField({
  name, label, value = "", hint = "", lines = 1, type = "text", autocomplete = "off", required = false, maxlength, inputmode,
  suggestions = [], onChange = () => {},
}) {
  const note = noteLine(hint);
  const id = freshId("field");
  const list = suggestions.length ? h("datalist", { id: freshId("list") }, ...suggestions.map((each) => h("option", { value: each }))) : null;
  const common = {
    id, name, autocomplete, maxlength, inputmode, value: value ?? "", "aria-describedby": note.id, "aria-required": required ? "true" : null,
    oninput: () => onChange(input.value),
  };
  const input = lines > 1 ? h("textarea", { ...common, rows: lines }) : h("input", { ...common, type, list: list?.id });
  return {
    element: h("div", { class: "field" }, h("div", { class: "field-head" }, h("label", { for: id }, label)), input, list, note.element),
    name,
    get value() {
      return type === "date" ? input.value || null : input.value;
    },
    set: (next) => {
      input.value = next ?? "";
    },
    problem: (text) => {
      if (text === null) {
        note.calm();
        input.removeAttribute("aria-invalid");
      } else {
        note.problem(text);
        input.setAttribute("aria-invalid", "true");
      }
    },
    focus: () => input.focus(),
    unclear: () => false,
  };
}

/**
 * One of a few, as touch-sized buttons; with `list`, one of many.
 *
 * @param {{name: string, label: string, choices: {value: any, text: string}[], value?: any, hint?: string,
 *          list?: boolean, onChange?: (value: any) => void}} options
 * @returns {Field}
 */
export function choiceField({ name, label, choices, value = null, hint = "", list = false, onChange = () => {} }) {
  const note = noteLine(hint);
  const index = () => choices.findIndex((choice) => choice.value === held);
  let held = value;
  /** @param {number} position */
  const take = (position) => {
    held = choices[position]?.value ?? null;
    note.calm();
    onChange(held);
  };
  /** @type {HTMLElement} */
  let element;
  /** @type {() => void} */
  let draw;
  /** @type {() => void} */
  let focus;
  if (list) {
    const id = freshId("field");
    const select = h(
      "select", { id, name, "aria-describedby": note.id, onchange: () => take(Number(select.value)) },
      ...choices.map((choice, position) => h("option", { value: String(position) }, choice.text)),
    );
    draw = () => {
      select.value = String(index());
    };
    focus = () => select.focus();
    element = h("div", { class: "field" }, h("div", { class: "field-head" }, h("label", { for: id }, label)), select, note.element);
  } else {
    const group = freshId(name.replaceAll(".", "-"));
    const radios = choices.map((choice, position) => h("input", { type: "radio", name: group, onchange: () => take(position) }));
    draw = () => radios.forEach((radio, position) => {
      radio.checked = position === index();
    });
    focus = () => (radios[Math.max(index(), 0)] ?? radios[0])?.focus();
    element = h(
      "fieldset", { class: "field choice", "aria-describedby": note.id },
      h("legend", null, label),
      h("div", { class: "choices" }, ...choices.map((choice, position) => h("label", null, radios[position], h("span", null, choice.text)))),
      note.element,
    );
  }
  draw();
  return {
    element,
    name,
    get value() {
      return held;
    },
    set: (next) => {
      held = next;
      draw();
    },
    problem: (text) => (text === null ? note.calm() : note.problem(text)),
    focus,
    unclear: () => false,
  };
}

/**
 * Yes or no.
 *
 * @param {{name: string, label: string, value?: boolean, hint?: string, onChange?: (value: boolean) => void}} options
 * @returns {Field}
 */
export function tickField({ name, label, value = false, hint = "", onChange = () => {} }) {
  const note = noteLine(hint);
  const input = h("input", {
    type: "checkbox", name, checked: value, "aria-describedby": note.id, onchange: () => onChange(input.checked),
  });
  return {
    element: h("div", { class: "field tick" }, h("label", null, input, h("span", null, label)), note.element),
    name,
    get value() {
      return input.checked;
    },
    set: (next) => {
      input.checked = Boolean(next);
    },
    problem: (text) => (text === null ? note.calm() : note.problem(text)),
    focus: () => input.focus(),
    unclear: () => false,
  };
}
