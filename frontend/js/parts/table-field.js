// @ts-check
/**
 * A small table of numbers as one field: rows are added and removed with a gloved thumb, Enter goes on to the next
 * cell, and lines copied from elsewhere fill it from the cell they are put into.
 *
 * @typedef {{key: string, label: string, quantity: string, signed?: boolean}} Column
 *   `signed`: numbers below zero are usual, so the keyboard must offer the sign
 * @typedef {{[key: string]: number}} Row
 * @typedef {import("./field.js").Field & {problem: (text: string | null, at?: string) => void, rows: () => Row[],
 *            blank: () => boolean}} TableField
 *   `rows`: the complete ones; `blank`: nothing is typed; `at` of a problem names the cell as the server does
 */

import { h, replace } from "../dom.js";
import { nextUnit, read, inUnit, unitOf, unitsOf } from "../units.js";
import { noteLine } from "./field.js";
import { t } from "../words.js";

const NOT_ONE = t("is not one number: type it like 12.5.");

/**
 * @param {{name: string, label: string, columns: Column[], value?: Row[] | null, names?: string[] | null,
 *          least?: number, most?: number, add?: string, repeat?: boolean, hint?: string, extra?: HTMLElement | null,
 *          locate?: (at: string) => {row: number, key: string} | null, onChange?: () => void}} options
 *   `names`: of fixed rows, none added or removed; `repeat`: a new row starts as a copy of the one above;
 *   `locate`: the cell of a server's path, where it is not "3.gap_mm" or "force_n.3"
 * @returns {TableField}
 */
export function tableField({
  name, label, columns, value = null, names = null, least = 1, most = 60, add = t("Add a row"), repeat = false, hint = "",
  extra = null, locate = usual, onChange = () => {},
}) {
  const note = noteLine(hint);
  /** @type {{row: HTMLElement, cells: ReturnType<typeof cell>[]}[]} */
  let lines = [];
  const body = h("tbody");
  const more = h("button", { type: "button", class: "add-row", onclick: () => {
    const above = repeat ? lines.at(-1)?.cells.map((one) => one.input.value) : undefined;
    addLine(above);
    lines.at(-1)?.cells[0].input.focus();
    changed();
  } }, add);
  const head = h("tr", null, h("th", { scope: "col" }, names ? "" : h("span", { class: "quiet" }, "row")),
    ...columns.map((column) => h("th", { scope: "col" }, `${column.label} `, unitMark(column))),
    names ? null : h("td"));
  const element = h(
    "fieldset", { class: "field table-field", "aria-describedby": note.id, onkeydown: enter },
    h("legend", null, label), extra,
    h("table", { class: names ? "cells named" : "cells" }, h("thead", null, head), body), names ? null : more, note.element,
  );

  function changed() {
    note.calm();
    for (const line of lines) for (const one of line.cells) one.input.removeAttribute("aria-invalid");
    onChange();
  }

  /** @param {Column} column */
  function cell(column) {
    /** @type {number | null} */
    let held = null;
    let clear = true;
    const take = () => {
      const found = read(input.value, column.quantity);
      clear = "value" in found;
      held = "value" in found ? found.value : null;
    };
    const input = h("input", {
      type: "text", inputmode: column.signed ? "text" : "decimal", autocomplete: "off", "data-unit-aware": true,
      "aria-describedby": note.id,
      oninput: () => {
        take();
        changed();
      },
      onchange: () => {
        if (clear) return;
        input.setAttribute("aria-invalid", "true");
        note.problem(`“${input.value}” ${NOT_ONE}`);
      },
      onpaste: (/** @type {ClipboardEvent} */ event) => paste(event, input),
      onunitschange: () => {
        if (clear && held !== null) input.value = inUnit(held, column.quantity, { decimals: 3 }).text;
      },
    });
    return {
      input, column,
      get value() { return held; },
      get clear() { return clear; },
      /** @param {string} text */
      type: (text) => {
        input.value = text;
        take();
      },
      /** @param {number | null | undefined} next */
      put: (next) => {
        held = next ?? null;
        clear = true;
        input.value = held === null ? "" : inUnit(held, column.quantity, { decimals: 3 }).text;
      },
    };
  }

  /** @param {string[]} [texts] */
  function addLine(texts) {
    if (lines.length >= most) return;
    const cells = columns.map(cell);
    cells.forEach((one, index) => one.type(texts?.[index] ?? ""));
    /** @type {{row: HTMLElement, cells: typeof cells}} */
    const line = { row: h("tr"), cells };
    const drop = names ? null : h("td", null, h("button", { type: "button", class: "drop-row", onclick: () => {
      lines = lines.filter((other) => other !== line);
      line.row.remove();
      while (lines.length < least) addLine();
      number();
      more.focus();
      changed();
    } }, "−"));
    replace(line.row, h("th", { scope: "row" }), ...cells.map((one) => h("td", null, one.input)), drop);
    lines.push(line);
    body.append(line.row);
    number();
  }

  function number() {
    lines.forEach((line, index) => {
      const called = names?.[index] ?? String(index + 1);
      replace(line.row.firstElementChild ?? line.row, called);
      const row = names ? called : t("row {n}", { n: called });
      for (const one of line.cells) {
        one.input.setAttribute("aria-label", `${label}, ${row}, ${one.column.label}`);
        one.input.setAttribute("name", `${name}.${index}.${one.column.key}`);
      }
      line.row.querySelector(".drop-row")?.setAttribute("aria-label", t("{label}: remove row {n}", { label, n: called }));
    });
    more.hidden = lines.length >= most;
  }

  /** @param {ClipboardEvent} event @param {HTMLInputElement} at */
  function paste(event, at) {
    const rows = (event.clipboardData?.getData("text") ?? "").trim().split(/\r?\n/).map((line) => line.trim().split(/[\t;]|\s+/));
    if (rows.length < 2) return;
    event.preventDefault();
    const first = lines.findIndex((line) => line.cells.some((one) => one.input === at));
    const from = lines[first].cells.findIndex((one) => one.input === at);
    rows.forEach((texts, down) => {
      if (!lines[first + down] && !names) addLine();
      texts.forEach((text, along) => lines[first + down]?.cells[from + along]?.type(text));
    });
    changed();
  }

  /** @param {KeyboardEvent} event */
  function enter(event) {
    if (event.key !== "Enter" || !(event.target instanceof HTMLInputElement)) return;
    // Enter goes on to the next cell; it does not send the form around the table.
    event.preventDefault();
    const inputs = lines.flatMap((line) => line.cells.map((one) => one.input));
    const next = inputs[inputs.indexOf(event.target) + 1];
    if (next) next.focus();
    else if (!names && !more.hidden) more.click();
  }

  /** @param {Row[] | null} rows */
  function fill(rows) {
    lines = [];
    body.replaceChildren();
    const count = names?.length ?? Math.max(least, rows?.length ?? 0);
    for (let index = 0; index < count; index += 1) {
      addLine();
      lines[index].cells.forEach((one) => one.put(rows?.[index]?.[one.column.key]));
    }
  }

  const blankLine = (/** @type {typeof lines[0]} */ line) => line.cells.every((one) => one.input.value.trim() === "");
  const full = (/** @type {typeof lines[0]} */ line) => line.cells.every((one) => one.clear && one.value !== null);
  const rows = () => lines.filter(full).map((line) => Object.fromEntries(line.cells.map((one) => [one.column.key, /** @type {number} */ (one.value)])));
  fill(value);
  return {
    element, name, rows,
    blank: () => lines.every(blankLine),
    get value() {
      const found = rows();
      return found.length ? found : null;
    },
    set: (next) => fill(next),
    problem: (text, at = "") => {
      if (text === null) {
        note.calm();
        return;
      }
      note.problem(text);
      const place = locate(at);
      const input = place && lines[place.row]?.cells.find((one) => one.column.key === place.key)?.input;
      if (input) input.setAttribute("aria-invalid", "true");
    },
    focus: () => {
      const open = lines.filter((line) => !full(line) && (names || !blankLine(line))).flatMap((line) => line.cells.filter((one) => one.value === null))[0];
      if (open && !note.element.classList.contains("problem")) note.problem(names ? t("Fill this cell: every point is needed.") : t("Fill this cell, or empty its row."));
      const wrong = /** @type {HTMLElement | null} */ (element.querySelector("[aria-invalid]"));
      (wrong ?? open?.input ?? lines[0]?.cells[0].input)?.focus();
    },
    // Named rows are wanted all together; of counted ones each is whole or blank.
    unclear: () => (names && !lines.every(blankLine) ? !lines.every(full) : lines.some((line) => !full(line) && !blankLine(line))),
    text: () => JSON.stringify(lines.map((line) => line.cells.map((one) => one.input.value))),
    retype: (text) => {
      const texts = JSON.parse(text);
      fill(null);
      texts.forEach((/** @type {string[]} */ each, /** @type {number} */ index) => {
        if (!lines[index] && !names) addLine();
        each.forEach((one, along) => lines[index]?.cells[along]?.type(one));
      });
    },
  };
}

/** @param {Column} column */
function unitMark({ label, quantity }) {
  if (unitsOf(quantity).length < 2) return h("span", { class: "unit" }, quantity);
  const mark = h("button", { type: "button", class: "unit", "data-unit-aware": true, onclick: () => nextUnit(quantity), onunitschange: () => draw() });
  const draw = () => replace(mark, unitOf(quantity), h("span", { class: "quiet" }, t(", unit of {label}: change", { label })));
  draw();
  return mark;
}

/** @param {string} at */
function usual(at) {
  const inner = /(\d+)\.(\w+)$/.exec(at);
  if (inner) return { row: Number(inner[1]), key: inner[2] };
  const column = /(\w+)\.(\d+)$/.exec(at);
  return column ? { row: Number(column[2]), key: column[1] } : null;
}
