// @ts-check
/**
 * The one module that talks to the server. Every call answers the parsed JSON (a file's text as it is), or throws
 * `Refused` (the server said no, and why) or `Offline` (nobody answered).
 *
 * @typedef {{field: string, code: string, text: string, value?: any, unit?: string | null,
 *            low?: number | null, high?: number | null}} Problem
 */

import { whoIsHere } from "./store.js";
import { language, t } from "./words.js";

const PATIENCE_MS = 20_000;

/** @type {() => Promise<boolean>} */
let askFull = async () => false;

/** Say how the full sign-in is asked for when the server wants it; `ask` answers whether it was given. @param {() => Promise<boolean>} ask */
export function whenFullIsWanted(ask) {
  askFull = ask;
}

/** The server's no: its problems, and on 412 both versions of the row. */
export class Refused extends Error {
  /**
   * @param {number} status
   * @param {Problem[]} problems
   * @param {any} [theirs]
   * @param {any} [yours]
   */
  constructor(status, problems, theirs = null, yours = null) {
    super(problems.map((problem) => problem.text).join(" "));
    this.status = status;
    this.problems = problems;
    this.theirs = theirs;
    this.yours = yours;
  }
}

/** Nobody answered: no network, or no server behind it. */
export class Offline extends Error {
  constructor() {
    super(t("No connection."));
  }
}

/** Tells "signed-out" when the server no longer knows who asks. */
export const events = new EventTarget();

/** Return a key for one POST; a retry of the same POST uses the same key. */
export function freshKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

/** @param {string} path @returns {Promise<any>} */
export const get = (path) => send("GET", path);

/**
 * @param {string} path
 * @param {any} [body]
 * @param {{key?: string}} [options] `key`: give the same one when the same POST is tried again
 * @returns {Promise<any>}
 */
export const post = (path, body = {}, { key = freshKey() } = {}) => send("POST", path, body, { "Idempotency-Key": key });

/**
 * @param {string} path
 * @param {any} body
 * @param {{version?: number, fresh?: boolean}} condition the version that is replaced, or `fresh` for the first one
 * @returns {Promise<any>}
 */
export const put = (path, body, { version, fresh = false }) =>
  send("PUT", path, body, fresh ? { "If-None-Match": "*" } : { "If-Match": `"${version}"` });

/** @param {string} path @param {any} body @param {number | null} [version] @returns {Promise<any>} */
export const patch = (path, body, version = null) => send("PATCH", path, body, match(version));

/** @param {string} path @param {number | null} [version] @param {any} [body] @returns {Promise<any>} */
export const remove = (path, version = null, body = undefined) => send("DELETE", path, body, match(version));

/** Send a file as the body itself. @param {string} path @param {Blob} file @returns {Promise<any>} */
export const upload = (path, file) => send("POST", path, file);

/** @param {number | null} version @returns {Record<string, string>} */
function match(version) {
  return version === null ? {} : { "If-Match": `"${version}"` };
}

/**
 * @param {string} method
 * @param {string} path
 * @param {any} [body]
 * @param {Record<string, string>} [headers]
 * @returns {Promise<any>}
 */
async function send(method, path, body = undefined, headers = {}) {
  /** @type {Record<string, string>} */
  const all = { Accept: "application/json", "Accept-Language": language, ...inWhoseName(), ...headers };
  if (method !== "GET") all["X-CSRFToken"] = cookie("csrftoken");
  const file = body instanceof Blob;
  if (body !== undefined) all["Content-Type"] = file ? body.type || "image/jpeg" : "application/json";
  /** @type {Response} */
  let response;
  /** @type {any} */
  let answer;
  try {
    response = await fetch(path, {
      method,
      headers: all,
      body: body === undefined || file ? body : JSON.stringify(body),
      credentials: "same-origin",
      cache: "no-store",
      signal: AbortSignal.timeout(file ? 3 * PATIENCE_MS : PATIENCE_MS),
    });
    const text = await response.text();
    const type = response.headers.get("Content-Type") ?? "";
    answer = text && type.includes("json") ? JSON.parse(text) : type.includes("csv") ? text : null;
  } catch {
    throw new Offline();
  }
  if (response.ok) return answer;
  const no = refusal(response, answer);
  if (await becameFull(no)) return send(method, path, body, headers);
  throw no;
}

/** The server wants the full sign-in: ask for it, and answer whether the request may be tried again. @param {Error} no */
const becameFull = async (no) => no instanceof Refused && no.problems[0]?.code === "full_sign_in" && askFull();

/**
 * Another page of this browser may have changed hands: nothing is done in the name of whoever is not here.
 *
 * @returns {Record<string, string>}
 */
function inWhoseName() {
  const person = whoIsHere();
  return person ? { "Coilbook-Person": String(person.id) } : {};
}

/**
 * Return what to throw for an answer that is no yes.
 *
 * @param {Response} response
 * @param {any} answer its body, parsed
 */
function refusal(response, answer) {
  if ([502, 503, 504].includes(response.status)) return new Offline();
  const problems = answer?.problems ?? [unexplained(response.status)];
  if (response.status === 401) events.dispatchEvent(new Event("signed-out"));
  return new Refused(response.status, problems, answer?.theirs, answer?.yours);
}

/**
 * Send a file as the body itself, or ask for one to be made. Files take their time: they have no limit but `signal`,
 * which lets somebody call it off (the promise then rejects with an AbortError).
 *
 * @param {string} path
 * @param {{file?: Blob, signal: AbortSignal, key?: string}} options
 * @returns {Promise<Response>} the server's yes; its body is still on its way
 */
export async function exchange(path, { file, signal, key }) {
  const headers = { Accept: "*/*", "Accept-Language": language, "X-CSRFToken": cookie("csrftoken"), ...inWhoseName(), ...(file ? { "Content-Type": "text/csv" } : {}), ...(key ? { "Idempotency-Key": key } : {}) };
  /** @type {Response} */
  let response;
  try {
    response = await fetch(path, { method: "POST", headers, body: file, credentials: "same-origin", cache: "no-store", signal });
  } catch (error) {
    throw signal.aborted ? error : new Offline();
  }
  if (response.ok) return response;
  const no = refusal(response, await response.json().catch(() => null));
  if (await becameFull(no)) return exchange(path, { file, signal, key });
  throw no;
}

/** @param {number} status @returns {Problem} */
function unexplained(status) {
  const text = status === 404
    ? t("There is nothing here: it was removed, or it belongs to somebody else.")
    : t("The server could not do this ({status}). What you typed is kept; try again, or tell whoever runs Coilbook.", { status });
  return { field: "", code: `http_${status}`, text };
}

/** @param {string} name */
function cookie(name) {
  const start = `${name}=`;
  const found = document.cookie.split("; ").find((part) => part.startsWith(start));
  return found ? decodeURIComponent(found.slice(start.length)) : "";
}
