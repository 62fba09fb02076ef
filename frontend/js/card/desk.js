// @ts-check
/**
 * The card in hand: what the server last said of it, what still waits on this device, and who must be told of changes.
 */
import * as api from "../api.js";
import * as outbox from "../parts/outbox.js";
import { draft } from "../store.js";
import { Sheet } from "./sheet.js";
import { t } from "../words.js";

/** How long until the network is tried again, ms. */
const RETRY = 6000;

/** Desks that were left and still send what waited on them, by card. @type {Map<number, Promise<any>>} */
const leaving = new Map();

/** How long sums must rest before it is asked how sure they are, ms. */
const SURE_AFTER = 300;

/** @typedef {"card"|"sides"|"sure"|"typed"|"sending"|"sent"|"network"|"back"} News */

export class Desk {
  /**
   * @param {number} id
   * @param {{person: import("../store.js").Person, say: (text: string) => void, askWhich: (sheet: Sheet, clashes: import("./sheet.js").Clash[]) => Promise<any>}} hands
   */
  constructor(id, hands) {
    this.id = id;
    this.path = `/api/cards/${id}/`;
    this.copy = draft(`card.${id}.copy`);
    this.hands = hands;
    /** @type {any} */
    this.card = null;
    /** @type {any} */
    this.sides = null;
    /** How sure the sums are, where that is known. @type {any} */
    this.sure = null;
    this.sureTimer = 0;
    this.offline = false;
    /** What can be taken back, the latest last. @type {{label: string, run: () => Promise<any>}[]} */
    this.backs = [];
    /** @type {Map<string, Sheet>} */
    this.sheets = new Map();
    /** @type {Set<(news: News) => void>} */
    this.listeners = new Set();
    this.timer = 0;
    this.closed = false;
    /** @type {Promise<any>} */
    this.turn = Promise.resolve();
    this.sidesAsked = 0;
    this.sidesTimer = 0;
    this.redrawn = 0;
    this.online = () => this.cameOnline();
    window.addEventListener("online", this.online);
  }

  /** @param {(news: News) => void} listener */
  listen(listener) {
    this.listeners.add(listener);
    return () => this.listeners.delete(listener);
  }

  /** @param {News} news */
  tell(news) {
    if (!this.closed) for (const listener of this.listeners) listener(news);
  }

  /** @param {string} text */
  say(text) {
    this.hands.say(text);
  }

  /**
   * @param {Sheet} sheet
   * @param {import("./sheet.js").Clash[]} clashes
   */
  askWhich(sheet, clashes) {
    return this.hands.askWhich(sheet, clashes);
  }

  /** Whether the card belongs to this person's shop, or to the owner: sealed or not. */
  get mine() {
    const { person } = this.hands;
    return person.role === "owner" || person.shop.id === this.card.shop;
  }

  /** Whether anything may still be written on this card by this person. */
  get open() {
    return Boolean(this.card?.may_change) && !this.card?.record;
  }

  /** How many entries wait on this device for the server's word. */
  get waiting() {
    return this.#sum("waiting") + this.outbox.length;
  }

  /** How many of them are on their way, or will be with the network. */
  get going() {
    return this.#sum("going") + this.outbox.length;
  }

  /** How many entries the server has refused or nobody could read. */
  get stuck() {
    return this.#sum("stuck");
  }

  /** @param {"waiting"|"going"|"stuck"} what */
  #sum(what) {
    return [...this.sheets.values()].reduce((sum, sheet) => sum + sheet[what], 0);
  }

  /** What was posted from this card and still waits for the network. */
  get outbox() {
    return outbox.waiting().filter((change) => change.path.startsWith(this.path));
  }

  /** Fetch the card; without a network the copy on this device serves. */
  async load() {
    // An answer older than what was typed here a moment ago, before the card was left, would show it as lost.
    await leaving.get(this.id)?.catch(() => {});
    try {
      this.take(await api.get(this.path));
    } catch (error) {
      if (!(error instanceof api.Offline)) throw error;
      const copy = this.copy.read();
      if (!copy) throw error;
      this.card = copy.card;
      this.sides = copy.sides;
      this.wentOffline();
      this.tell("card");
      return;
    }
    window.clearTimeout(this.sidesTimer);
    await this.loadSides();
  }

  /** Fetch the card again, saying nothing when the network is away. */
  async reload() {
    try {
      this.take(await api.get(this.path));
    } catch (error) {
      if (!(error instanceof api.Offline)) throw error;
      this.wentOffline();
    }
  }

  /**
   * A newer card has come; `settled` runs before anybody is told.
   * @param {any} card
   * @param {() => void} [settled]
   */
  take(card, settled) {
    if (this.offline) this.cameOnline();
    settled?.();
    // What was sure of the old figures says nothing of the new ones.
    this.sure = null;
    if (!card || card.id !== this.card?.id || card.version >= this.card.version) this.card = card ?? this.card;
    this.#copy();
    this.tell("card");
    window.clearTimeout(this.sidesTimer);
    this.sidesTimer = window.setTimeout(() => this.loadSides(), 60);
  }

  /** The server knows other units now, in which it words and draws. */
  redraw() {
    this.redrawn += 1;
    return this.loadSides();
  }

  /** Fetch verdicts and pictures; the latest question wins. */
  async loadSides() {
    const asked = ++this.sidesAsked;
    try {
      const sides = await api.get(`${this.path}sides/`);
      if (asked !== this.sidesAsked) return;
      this.sides = sides;
      this.#copy();
      this.tell("sides");
      window.clearTimeout(this.sureTimer);
      if (!this.closed) this.sureTimer = window.setTimeout(() => this.#loadSure(asked), SURE_AFTER);
    } catch (error) {
      if (error instanceof api.Offline) this.wentOffline();
      else if (!(error instanceof api.Refused)) throw error;
    }
  }

  /** Fetch how sure the sums are; without it they stand alone. @param {number} asked */
  async #loadSure(asked) {
    try {
      const sure = await api.get(`${this.path}sure/`);
      if (asked !== this.sidesAsked) return;
      this.sure = sure;
      this.tell("sure");
    } catch (error) {
      if (!(error instanceof api.Offline || error instanceof api.Refused)) throw error;
    }
  }

  /**
   * One change after the other: an answer that was overtaken would show an older card.
   * @template A
   * @param {() => Promise<A>} work
   * @returns {Promise<A>}
   */
  inTurn(work) {
    const done = this.turn.then(work);
    this.turn = done.catch(() => {});
    return done;
  }

  /**
   * Do something at once on the server. Answers the card or null when it was refused or the network is away.
   * @param {string} what says what was tried, for the case that it fails
   * @param {() => Promise<any>} work
   * @param {{back?: (card: any) => (() => Promise<any>), onProblems?: (problems: any[]) => void}} [more]
   */
  async act(what, work, { back, onProblems } = {}) {
    try {
      const answer = await this.inTurn(async () => {
        const found = await work();
        if (found && "settings" in found) this.take(found);
        return found;
      });
      if (back) this.offerBack(what, back(answer));
      return answer ?? true;
    } catch (error) {
      if (error instanceof api.Offline) {
        this.wentOffline();
        this.say(t("No network, so this is not done yet: {what}. Try again when the network is back.", { what }));
      } else if (error instanceof api.Refused) {
        if (error.status === 412) await this.reload();
        onProblems?.(error.problems);
        this.say(error.problems.map((problem) => problem.text).join(" "));
      } else {
        throw error;
      }
      return null;
    }
  }

  /**
   * Post something that needs no answer to go on; without a network it waits on this device.
   * @param {string} path
   * @param {string} about what it is, in words
   */
  async send(path, about) {
    const answer = outbox.deliver({ method: "POST", path, body: {}, about });
    this.tell("typed");
    try {
      this.take(await answer);
    } catch (error) {
      if (!(error instanceof api.Refused)) throw error;
      this.say(error.problems.map((problem) => problem.text).join(" "));
      this.tell("sent");
    }
  }

  /**
   * @param {string} label
   * @param {() => Promise<any>} run
   */
  offerBack(label, run) {
    this.backs.push({ label, run });
    this.tell("back");
  }

  /** The last change that can be taken back. */
  get back() {
    return this.backs.at(-1) ?? null;
  }

  /** Take the last change back; the one before it is next. */
  async takeBack() {
    const back = this.backs.pop();
    if (!back) return;
    this.tell("back");
    const done = await this.act(t("take back: {label}", { label: back.label }), back.run);
    if (done) this.say(t("Taken back: {label}.", { label: back.label }));
  }

  /**
   * The sheet of this name; made at first use.
   * @param {string} key
   * @param {() => import("./sheet.js").Spec} spec
   */
  sheet(key, spec) {
    let sheet = this.sheets.get(key);
    if (!sheet) {
      sheet = new Sheet(this, key, spec());
      this.sheets.set(key, sheet);
    }
    return sheet;
  }

  wentOffline() {
    if (!this.offline) {
      this.offline = true;
      this.tell("network");
    }
    window.clearTimeout(this.timer);
    if (!this.closed) this.timer = window.setTimeout(this.online, RETRY);
  }

  cameOnline() {
    window.clearTimeout(this.timer);
    const was = this.offline;
    this.offline = false;
    if (was) this.tell("network");
    void this.flush();
  }

  /** Send whatever waits. */
  async flush() {
    await Promise.all([...this.sheets.values()].map((sheet) => sheet.flush()));
    if (!this.waiting && !this.closed && this.card && !this.sides) await this.loadSides();
  }

  #copy() {
    this.copy.write({ card: this.card, sides: this.sides });
  }

  /** Leave the card: what waits is sent; the copy goes when nothing waits. */
  async close() {
    const left = this.#leave().finally(() => {
      if (leaving.get(this.id) === left) leaving.delete(this.id);
    });
    leaving.set(this.id, left);
    await left;
  }

  async #leave() {
    this.closed = true;
    window.removeEventListener("online", this.online);
    window.clearTimeout(this.timer);
    window.clearTimeout(this.sidesTimer);
    window.clearTimeout(this.sureTimer);
    await this.flush();
    // What was already on its way when the card was left.
    await this.turn;
    for (const sheet of this.sheets.values()) sheet.close();
    if (!this.waiting) this.copy.drop();
  }
}
