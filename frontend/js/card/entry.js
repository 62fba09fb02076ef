// @ts-check
/** Fields tied to a sheet: what is typed goes to the device at once, what the server says comes back into the field. */
import { choiceField, numberField, textField, tickField } from "../parts/field.js";
import { same, under } from "./paths.js";
import { factName, quantityOf } from "./words.js";

/**
 * @typedef {import("../parts/field.js").Field} Field
 * @typedef {{label?: string, hint?: string, quantity?: string, band?: string, step?: number, start?: number|null,
 *   decimals?: number, lines?: number, type?: string, list?: boolean, suggestions?: string[], maxlength?: number,
 *   choices?: {value: any, text: string}[], also?: string[], origin?: string, empty?: any,
 *   onValue?: (value: any) => void}} Options
 *   `also`: paths that always hold the same; `origin`: what a typed value is taken to be where nothing was said
 */

export class Entries {
  /** @param {import("./sheet.js").Sheet} sheet */
  constructor(sheet) {
    this.sheet = sheet;
    /** @type {{path: string, field: Field & {curve?: string}, empty: any}[]} */
    this.tied = [];
  }

  /**
   * @param {string} path
   * @param {Options} options
   */
  number(path, { also = [], origin, onValue, ...options } = {}) {
    const mark = origin ? this.#origin(path, also) : {};
    const take = (/** @type {any} */ read, /** @type {string|null} */ text) => {
      this.#set(path, also, text, read);
      if (origin && "value" in read && unsaid(this.#source(path))) this.#say(path, also, { from: origin });
      if ("value" in read) onValue?.(read.value);
    };
    const field = numberField({
      name: path,
      label: options.label ?? capital(factName(path)),
      quantity: options.quantity ?? quantityOf(path) ?? "",
      value: this.#number(path),
      ...options,
      ...mark,
      onChange: (value) => take({ value }, null),
    });
    const input = /** @type {HTMLInputElement} */ (field.element.querySelector("input"));
    input.addEventListener("input", () => {
      if (field.unclear()) take({}, input.value);
    });
    this.#tie(path, field, null);
    const typed = this.sheet.typed(path);
    if (typed !== undefined) {
      input.value = typed;
      // The field reads the text again and asks again what it asked before.
      input.dispatchEvent(new Event("change"));
    }
    return field.element;
  }

  /**
   * @param {string} path
   * @param {Options} options
   */
  text(path, { also = [], onValue, empty = "", ...options } = {}) {
    const field = textField({
      name: path,
      label: options.label ?? capital(factName(path)),
      value: this.sheet.value(path) ?? "",
      ...options,
      onChange: (text) => {
        this.#set(path, also, null, { value: text || empty });
        onValue?.(text);
      },
    });
    this.#tie(path, field, empty);
    return field.element;
  }

  /**
   * @param {string} path
   * @param {Options} options
   */
  choice(path, { also = [], onValue, choices = [], ...options }) {
    const field = choiceField({
      name: path,
      label: options.label ?? capital(factName(path)),
      value: this.sheet.value(path) ?? null,
      choices,
      ...options,
      onChange: (value) => {
        this.#set(path, also, null, { value });
        onValue?.(value);
      },
    });
    this.#tie(path, field, null);
    return field.element;
  }

  /**
   * @param {string} path
   * @param {Options} options
   */
  tick(path, options = {}) {
    const field = tickField({
      name: path,
      label: options.label ?? capital(factName(path)),
      value: Boolean(this.sheet.value(path)),
      hint: options.hint,
      onChange: (value) => this.#set(path, [], null, { value }),
    });
    this.#tie(path, field, false);
    return field.element;
  }

  /**
   * A spring of a kind that has its own table, as one value; what is typed and not whole yet stays on this device.
   * @param {string} path
   * @param {import("../parts/curve-fields.js").CurveField} field
   * @param {{also?: string[], kind: string, whole: (value: any) => any, said: () => void}} options
   *   `whole` adds to the typed spring what the form asks elsewhere; `said`: its source was noted
   */
  curve(path, field, { also = [], kind, whole, said }) {
    Object.assign(field, { curve: kind });
    const take = () => {
      const { value } = field;
      const typed = JSON.stringify({ kind, typed: field.text?.() });
      if (field.unclear() || value === undefined) this.#set(path, also, typed, {});
      else this.#set(path, also, null, { value: whole(value) });
      if (kind === "tested" && value !== undefined && unsaid(this.#source(path), "stamped")) {
        this.#say(path, also, { from: "measured" });
        said();
      }
    };
    field.element.addEventListener("input", take);
    field.element.addEventListener("change", take);
    field.element.addEventListener("click", (event) => {
      // Rows and springs come and go by their own buttons.
      if (event.target instanceof Element && event.target.closest(".add-row, .drop-row, .quiet-button")) take();
    });
    this.#tie(path, field, null);
    const typed = typedCurve(this.sheet.typed(path));
    if (typed?.kind === kind && typed.typed) field.retype?.(typed.typed);
    return field.element;
  }

  /** Bring what the server said into every field that nobody is typing in, and its problem under it. */
  sync() {
    for (const { path, field, empty } of this.tied) {
      const typing = field.element.contains(document.activeElement);
      const value = this.sheet.value(path) ?? empty;
      if (field.curve) {
        if (!typing && this.sheet.typed(path) === undefined && value?.kind === field.curve && !within(field.value, value)) field.set(value);
      } else if (!typing && this.sheet.typed(path) === undefined && !same(field.value ?? empty, value)) field.set(value);
      const at = Object.keys(this.sheet.problems).find((one) => under(one, path));
      if (at) field.problem(this.sheet.problems[at], at);
    }
  }

  /** @param {string} path */
  #number(path) {
    const value = this.sheet.value(path);
    return typeof value === "number" ? value : null;
  }

  /**
   * @param {string} path
   * @param {Field} field
   * @param {any} empty
   */
  #tie(path, field, empty) {
    this.tied.push({ path, field, empty });
    field.element.dataset.path = path;
    field.element.addEventListener("change", () => {
      void this.sheet.flush();
      // Leaving the field calms its line; what the server has said of the same value still holds.
      this.sync();
    });
  }

  /**
   * @param {string} path
   * @param {string[]} also
   * @param {string|null} text
   * @param {{value?: any}} read
   */
  #set(path, also, text, read) {
    for (const one of [path, ...also]) this.sheet.set(one, text, read);
  }

  /** Where the server or this device says a fact comes from. @param {string} path */
  #source(path) {
    return this.sheet.value("sources")?.[sourceKey(path)] ?? null;
  }

  /**
   * @param {string} path
   * @param {string[]} also
   */
  #origin(path, also) {
    return {
      origin: this.#source(path) ?? null,
      onOrigin: (/** @type {any} */ said) => {
        this.#say(path, also, said);
        void this.sheet.flush();
      },
    };
  }

  /**
   * Say where a fact comes from.
   * @param {string} path
   * @param {string[]} also
   * @param {any} said
   */
  say(path, also, said) {
    this.#say(path, also, said);
    void this.sheet.flush();
  }

  /**
   * @param {string} path
   * @param {string[]} also
   * @param {any} said
   */
  #say(path, also, said) {
    const sources = { ...this.sheet.value("sources") };
    for (const one of [path, ...also]) sources[sourceKey(one)] = said;
    this.sheet.set("sources", null, { value: sources });
  }
}

/** Whether nobody has said yet where a fact comes from: what was computed counts until it is read. @param {any} source @param {string} [also] */
const unsaid = (source, also = "assumed") => !source || ["assumed", "computed", also].includes(source.from);

/** Whether every fact of one is the same in the other, which may have more. @param {any} one @param {any} other */
const within = (one, other) => Boolean(one) && Object.keys(one).every((name) => same(one[name], other[name]));

/** What is typed of a spring with a table: its kind, and what stands in its cells. @param {string | undefined} typed */
export function typedCurve(typed) {
  return typed?.startsWith("{") ? JSON.parse(typed) : null;
}

/** Of a spring the source is noted once, for the whole of it. @param {string} path */
const sourceKey = (path) => path.replace(/(^|\.)spring\..*$/, "$1spring");

/** @param {string} text */
export const capital = (text) => text.charAt(0).toUpperCase() + text.slice(1);
