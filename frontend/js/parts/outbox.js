// @ts-check
/**
 * Changes on their way to the server. A change is written to the device first, sent in order, tried again with the
 * same Idempotency-Key while the network is away, and forgotten only when the server has answered.
 *
 * @typedef {{method: "POST" | "PUT" | "PATCH" | "DELETE", path: string, body?: any, version?: number | null,
 *            fresh?: boolean, versionAt?: string, about: string, draft?: string}} Change
 *   `about`: what the change is, in words ("readings as received"); `versionAt`: where the answer to this change
 *   carries the row's new version ("settings.received.front.version"; "version" if left out), so that a later change
 *   of the same row, typed before the answer came, goes on from there; `draft`: the draft that the server's answer
 *   makes superfluous
 * @typedef {Change & {id: string, problems?: import("../api.js").Problem[], theirs?: any}} Waiting
 */

import { Offline, Refused, freshKey, patch, post, put, remove } from "../api.js";
import { draft } from "../store.js";

const RETRY_MS = 5_000;

/**
 * "state": something was kept, sent or refused. "sent": detail {change, answer}: a change of an earlier visit went out.
 */
export const events = new EventTarget();

/** @type {Map<string, {resolve: (answer: any) => void, reject: (error: Refused) => void}>} */
const hopes = new Map();
let busy = false;
let offline = false;
/** @type {ReturnType<typeof setTimeout> | undefined} */
let retry;

const box = () => draft("outbox");
/** @returns {Waiting[]} */
const all = () => box().read() ?? [];

/** Return the changes that still wait for the network. */
export const waiting = () => all().filter((each) => !each.problems);

/** Return the changes of an earlier visit that the server refused, kept until somebody decides. */
export const refused = () => all().filter((each) => each.problems);

/** Return whether the last try found nobody. */
export const isOffline = () => offline;

/**
 * Send `change`, now or as soon as there is a network again.
 *
 * @param {Change} change
 * @returns {Promise<any>} the server's answer, however late; rejects with `Refused` when the server says no
 */
export function deliver(change) {
  const entry = { ...change, id: freshKey() };
  box().write([...all(), entry]);
  const answer = new Promise((resolve, reject) => hopes.set(entry.id, { resolve, reject }));
  pump();
  return answer;
}

/** Wait until nothing is on its way: what is being sent is answered to whoever sent it. @param {number} patience in ms */
export async function settled(patience) {
  for (let waited = 0; busy && waited < patience; waited += 50) await new Promise((done) => setTimeout(done, 50));
}

/** Forget a change that somebody decided against. @param {string} id */
export function forget(id) {
  box().write(all().filter((each) => each.id !== id));
  tell();
}

/** Forget every change of this person that `gone` tells. @param {(change: Change) => boolean} gone */
export function drop(gone) {
  const kept = all().filter((each) => !gone(each));
  if (kept.length === all().length) return;
  box().write(kept);
  tell();
}

/** Send what waits, oldest first. Called at the start, when the network comes back, and by the clock. */
export async function pump() {
  if (busy) return;
  busy = true;
  clearTimeout(retry);
  try {
    for (let next = waiting()[0]; next; next = waiting()[0]) {
      const done = await attempt(next);
      if (!done) break;
    }
  } finally {
    busy = false;
    tell();
  }
  if (offline && waiting().length) retry = setTimeout(pump, RETRY_MS);
}

/** @param {Waiting} entry @returns {Promise<boolean>} whether the next one may be tried */
async function attempt(entry) {
  try {
    settle(entry, await transmit(entry));
    offline = false;
    return true;
  } catch (error) {
    if (error instanceof Offline) {
      offline = true;
      return false;
    }
    if (!(error instanceof Refused)) throw error;
    offline = false;
    if (error.status === 401) return false;
    if (error.status === 412 && holds(error.theirs, entry.body)) settle(entry, error.theirs);
    else turnedDown(entry, error);
    return true;
  }
}

/** @param {Waiting} entry */
function transmit({ method, path, body, version = null, fresh, id }) {
  if (method === "POST") return post(path, body, { key: id });
  if (method === "PUT") return put(path, body, fresh ? { fresh } : { version: version ?? 0 });
  if (method === "PATCH") return patch(path, body, version);
  return remove(path, version, body);
}

/** @param {Waiting} entry @param {any} answer */
function settle(entry, answer) {
  const next = at(answer, entry.versionAt ?? "version");
  const others = all().filter((each) => each.id !== entry.id).map((each) => {
    const follows = each.path === entry.path && each.method === entry.method && each.version === entry.version;
    return follows && typeof next === "number" ? { ...each, version: next, fresh: false } : each;
  });
  box().write(others);
  if (entry.draft) draft(entry.draft).drop();
  const hope = hopes.get(entry.id);
  hopes.delete(entry.id);
  if (hope) hope.resolve(answer);
  else events.dispatchEvent(new CustomEvent("sent", { detail: { change: entry, answer } }));
}

/** @param {Waiting} entry @param {Refused} error */
function turnedDown(entry, error) {
  const hope = hopes.get(entry.id);
  hopes.delete(entry.id);
  const others = all().filter((each) => each.id !== entry.id);
  if (hope) {
    box().write(others);
    hope.reject(error);
  } else {
    box().write([...others, { ...entry, problems: error.problems, theirs: error.theirs }]);
  }
}

/**
 * Whether the server already holds what was sent: then a 412 only means that our own first try had arrived.
 *
 * @param {any} theirs
 * @param {any} body
 */
function holds(theirs, body) {
  const inside = theirs?.body && !body?.body ? theirs.body : theirs;
  if (!inside || !body) return false;
  return Object.entries(body).every(([name, value]) => JSON.stringify(inside[name]) === JSON.stringify(value));
}

/** @param {any} value @param {string} path */
const at = (value, path) => path.split(".").reduce((inner, name) => inner?.[name], value);

function tell() {
  events.dispatchEvent(new Event("state"));
}

addEventListener("online", () => pump());
