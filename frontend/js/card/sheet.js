// @ts-check
/**
 * A sheet: one row of the server under one version, and what has been typed over it.
 *
 * Whatever is typed goes to the device's store at once and leaves it only when the server has acknowledged it. A newer
 * version on the server is never overwritten: where the same entry differs on both sides, the person chooses.
 */
import { Offline, Refused, freshKey } from "../api.js";
import { draft } from "../store.js";
import { at, put, same, under } from "./paths.js";

/**
 * @typedef {{text: string|null, value?: any, base: any, key: string}} Entry what was typed, what it reads as (absent:
 *   unreadable), what the server said when typing began, and the Idempotency-Key under which it goes
 * @typedef {{path: string, theirs: any, mine: any}} Clash
 * @typedef {{
 *   row: () => {version: number|null, value: any},
 *   send: (value: any, changed: Record<string, any>, version: number|null, keys: Record<string, string>) => Promise<any>,
 *   theirs: (answer: any) => {version: number|null, value: any},
 *   label: string,
 *   name: (path: string) => string,
 *   back?: (before: any, changed: Record<string, any>, after: any) => (() => Promise<any>),
 *   settle?: number,
 *   each?: boolean,
 * }} Spec
 *   `each`: a refused entry stays behind and the others go on without it
 */

/** How long the hand must rest before what it typed is sent, ms. */
const SETTLE = 900;

/** Entries that follow from others: no change of their own to take back. */
const QUIET = ["step", "sources"];

export class Sheet {
  /**
   * @param {import("./desk.js").Desk} desk
   * @param {string} key names the sheet on this card
   * @param {Spec} spec
   */
  constructor(desk, key, spec) {
    this.desk = desk;
    this.place = draft(`card.${desk.id}.${key}`);
    this.spec = spec;
    /** @type {Record<string, Entry>} */
    this.entries = this.place.read() ?? {};
    /** @type {Record<string, string>} */
    this.problems = {};
    this.timer = 0;
    this.sending = false;
    this.held = false;
  }

  /** How many entries wait on this device. */
  get waiting() {
    return Object.keys(this.entries).length;
  }

  /** How many of them the server has refused or nobody could read. */
  get stuck() {
    return this.#refused + Object.values(this.entries).filter((entry) => !("value" in entry)).length;
  }

  /** How many of them are on their way: none where they go together and one is refused. */
  get going() {
    return this.#refused && !this.spec.each ? 0 : this.waiting - this.stuck;
  }

  get #refused() {
    return Object.keys(this.problems).length;
  }

  /**
   * What stands in the field: the typed text, if any.
   * @param {string} path
   */
  typed(path) {
    return this.entries[path]?.text ?? undefined;
  }

  /**
   * The value that counts on this device: the typed one where it reads as one, else the server's.
   * @param {string} path
   */
  value(path) {
    return at(this.whole(), path);
  }

  /** The whole row with what was typed over it. */
  whole() {
    let value = this.spec.row().value;
    for (const [path, entry] of Object.entries(this.entries)) {
      if ("value" in entry) value = put(value, path, entry.value);
    }
    return value;
  }

  /**
   * Take what was typed. Without `value` it could not be read, stays on the device and is not sent.
   * @param {string} path
   * @param {string|null} text
   * @param {{value?: any}} read
   */
  set(path, text, read) {
    const server = this.spec.row().value;
    const base = this.entries[path]?.base ?? at(server, path) ?? null;
    for (const other of Object.keys(this.entries)) if (other !== path && under(other, path)) delete this.entries[other];
    delete this.entries[path];
    if (!("value" in read) || !same(read.value, at(server, path))) this.entries[path] = { text, base, key: freshKey(), ...read };
    for (const other of Object.keys(this.problems)) {
      if (under(other, path) || under(path, other)) delete this.problems[other];
    }
    this.#keep();
    this.#rest(this.spec.settle ?? SETTLE);
    this.desk.tell("typed");
  }

  /** Send now what is ready. */
  flush() {
    return this.#send();
  }

  /** Stop the clock; what waits stays on the device. */
  close() {
    window.clearTimeout(this.timer);
  }

  #keep() {
    if (this.waiting) this.place.write(this.entries);
    else this.place.drop();
  }

  /** @param {number} wait */
  #rest(wait) {
    window.clearTimeout(this.timer);
    this.timer = window.setTimeout(() => this.#send(), wait);
  }

  #ready() {
    const ready = Object.entries(this.entries).filter(([path, entry]) => "value" in entry && !(this.spec.each && this.problems[path]));
    return Object.fromEntries(ready);
  }

  async #send() {
    window.clearTimeout(this.timer);
    const going = this.#ready();
    if (this.sending || this.held || !Object.keys(going).length) return;
    this.sending = true;
    this.desk.tell("sending");
    const changed = Object.fromEntries(Object.entries(going).map(([path, entry]) => [path, entry.value]));
    const keys = Object.fromEntries(Object.entries(going).map(([path, entry]) => [path, entry.key]));
    try {
      const before = await this.desk.inTurn(async () => {
        const { version, value } = this.spec.row();
        const whole = Object.entries(changed).reduce((sum, [path, one]) => put(sum, path, one), value);
        this.desk.take(await this.spec.send(whole, changed, version, keys), () => this.#acknowledged(going));
        return value;
      });
      if (!this.spec.each) this.problems = {};
      const back = this.spec.back?.(before, changed, this.spec.row().value);
      const names = Object.keys(changed).filter((path) => !QUIET.includes(path)).map(this.spec.name);
      if (back && names.length) this.desk.offerBack(names.length === 1 ? names[0] : this.spec.label, back);
    } catch (error) {
      await this.#failed(error, going);
    } finally {
      this.sending = false;
      this.desk.tell("sent");
    }
    if (!this.desk.offline && this.going) this.#rest(10);
  }

  /** @param {Record<string, Entry>} sent */
  #acknowledged(sent) {
    for (const [path, entry] of Object.entries(sent)) if (this.entries[path] === entry) delete this.entries[path];
    this.#keep();
  }

  /**
   * @param {unknown} error
   * @param {Record<string, Entry>} going
   */
  async #failed(error, going) {
    if (error instanceof Offline) {
      this.desk.wentOffline();
    } else if (error instanceof Refused && error.status === 412) {
      await this.#clash(error, going);
    } else if (error instanceof Refused && error.status === 401) {
      // Signed out meanwhile: what was typed waits for its author.
    } else if (error instanceof Refused) {
      if (this.spec.each) this.#leaveBehind(error.problems, going);
      else this.problems = readProblems(error.problems);
      // A problem with a field stands under it; the rest has no other place than the line of state.
      const homeless = error.problems.filter((problem) => !problem.field);
      if (homeless.length) this.desk.say(homeless.map((problem) => problem.text).join(" "));
    } else {
      throw error;
    }
  }

  /**
   * The refused entries stay; where none of them is named, all that went.
   * @param {{field?: string, text: string}[]} problems
   * @param {Record<string, Entry>} going
   */
  #leaveBehind(problems, going) {
    const named = problems.filter((problem) => problem.field && problem.field in going);
    for (const { field, text } of named) this.problems[/** @type {string} */ (field)] = text;
    if (!named.length) for (const path of Object.keys(going)) this.problems[path] = problems[0].text;
  }

  /**
   * The row has changed meanwhile. Entries that the other side left alone go again; the others are shown side by side.
   * @param {Refused} error
   * @param {Record<string, Entry>} going
   */
  async #clash(error, going) {
    const theirs = this.spec.theirs(error.theirs);
    /** @type {Clash[]} */
    const clashes = Object.entries(going)
      .map(([path, entry]) => ({ path, theirs: at(theirs.value, path), mine: entry.value, base: entry.base }))
      .filter((one) => !same(one.theirs, one.base) && !same(one.theirs, one.mine));
    this.held = true;
    await this.desk.reload();
    const chosen = clashes.length ? await this.desk.askWhich(this, clashes) : {};
    this.held = false;
    for (const { path, theirs: value } of clashes) {
      if (chosen?.[path] === "theirs") delete this.entries[path];
      else if (this.entries[path]) this.entries[path] = { ...this.entries[path], base: value ?? null };
    }
    this.#keep();
    this.#rest(50);
  }
}

/**
 * The problems of a refusal by the path within the row: an end or "body" in front of it is dropped.
 * @param {{field?: string, text: string}[]} problems
 * @returns {Record<string, string>}
 */
export function readProblems(problems) {
  /** @type {Record<string, string>} */
  const found = {};
  for (const { field, text } of problems) found[(field ?? "").replace(/^(front|rear|body)\.(body\.)?/, "")] = text;
  return found;
}
