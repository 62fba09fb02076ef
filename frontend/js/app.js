// @ts-check
/**
 * The frame around every screen: who is here, where to go, one calm line of state, and the way from an address
 * ("#/cards/12/measured") to its screen.
 *
 * @typedef {Record<string, string>} Params  the address's named parts and its query ("#/new-card?bike=3")
 * @typedef {{close?: () => void, move?: (params: Params) => boolean | void}} View
 *   `move`: the address changed within the same screen; answering false asks for a fresh one
 * @typedef {{open: (root: HTMLElement, params: Params, app: App) => View | void | Promise<View | void>}} Screen
 * @typedef {{person: import("./store.js").Person, go: (hash: string) => void, say: (text: string) => void,
 *            title: (text: string) => void, manages: boolean, signOut: () => void, start: () => Promise<void>,
 *            tablet: {name: string} | null}} App
 *   `start`: ask the server anew who is here, and on which tablet; `title`: of the page in hand; `manages`: whether the person may edit the shop's lists
 */

import { Offline, events as apiEvents, get, remove, whenFullIsWanted } from "./api.js";
import { h, replace } from "./dom.js";
import { ask } from "./parts/dialog.js";
import { forgetErased } from "./parts/erased.js";
import { fullSignIn } from "./parts/full.js";
import { watchIdle } from "./parts/idle.js";
import { events as outboxEvents, isOffline, pump, refused, settled, waiting } from "./parts/outbox.js";
import { decide } from "./parts/unsent.js";
import * as audit from "./screens/audit.js";
import * as bike from "./screens/bike.js";
import * as bikes from "./screens/bikes.js";
import * as business from "./screens/business.js";
import * as card from "./screens/card.js";
import * as cards from "./screens/cards.js";
import * as customer from "./screens/customer.js";
import * as data from "./screens/data.js";
import { invited, recover } from "./screens/joining.js";
import { open as openLock } from "./screens/lock.js";
import * as me from "./screens/me.js";
import * as newCard from "./screens/new-card.js";
import { open as openSignIn } from "./screens/sign-in.js";
import * as springs from "./screens/springs.js";
import { draftNames, forgetPerson, keepShared, lastPerson, readShared, setPerson, whoIsHere } from "./store.js";
import { loadUnits } from "./units.js";
import { speak, t, tn } from "./words.js";

/** @type {Record<string, Screen>} */
const SCREENS = {
  cards,
  "cards/:id": card,
  "cards/:id/:step": card,
  bikes,
  "bikes/:id": bike,
  "customers/:id": customer,
  "new-card": newCard,
  springs,
  business,
  audit,
  data,
  me,
};

const PLACES = [
  { hash: "#/cards", text: t("Job cards"), holds: ["cards", "new-card"] },
  { hash: "#/bikes", text: t("Bikes"), holds: ["bikes", "customers"] },
  { hash: "#/springs", text: t("Springs"), holds: ["springs"] },
  { hash: "#/business", text: t("Business"), holds: ["business", "audit", "data"] },
];

const SETTLE_MS = 3_000;
const SENT_STANDS_MS = 5_000;

const bar = part("bar");
const place = part("place");
const state = part("state");
const work = part("work");

/** @type {{screen: Screen | null, view: View, id: string | undefined} | null} */
let current = null;
let opened = 0;
let cutOff = false;
/** The enrolled tablet that this is, null on any other device. @type {{id: number, name: string, shop_name: string} | null} */
let tablet = null;
let lockAfter = 0;
let stopWatching = () => {};
/** Whether the screen in sight was opened by a secret in the address, and who is signed in is still to be asked. */
let atDoor = false;

/** @param {string} id */
function part(id) {
  return /** @type {HTMLElement} */ (document.getElementById(id));
}

/** @param {string} text */
function say(text) {
  replace(state, text);
}

replace(part("skip"), t("Skip to the work"));
replace(part("hush"), t("Close"));
part("hush").addEventListener("click", () => say(""));

/** @param {string} hash */
function go(hash) {
  if (location.hash === hash) show();
  else location.hash = hash;
}

/** @param {string} text */
function title(text) {
  document.title = `${text} · Coilbook`;
}

/** Open the screen of the address in hand. */
async function show() {
  cutOff = false;
  const { path, query } = address();
  if (path[0] in DOORS) return door(path);
  if (atDoor) {
    atDoor = false;
    return start();
  }
  const person = whoIsHere();
  if (!person) return notSignedIn();
  void forgetErased();
  const [pattern, params] = match(path, query);
  const mine = ++opened;
  drawBar(path[0]);
  const screen = SCREENS[pattern];
  if (current?.screen === screen && current.view.move && current.id === params.id) {
    if (current.view.move(params) !== false) return undefined;
  }
  await change(screen, params, mine);
  return undefined;
}

/** @param {Screen} screen @param {Params} params @param {number} mine */
async function change(screen, params, mine) {
  const person = /** @type {import("./store.js").Person} */ (whoIsHere());
  leave();
  const root = h("div", { class: "screen" });
  const app = { person, go, say, title, manages: person.role !== "technician", signOut, start, tablet };
  let view;
  try {
    view = await screen.open(root, params, app);
  } catch (error) {
    if (mine === opened) failed(error);
    return;
  }
  if (mine !== opened) {
    view?.close?.();
    return;
  }
  current = { screen, view: view ?? {}, id: params.id };
  replace(work, root);
  const heading = work.querySelector("h1");
  if (heading) {
    title(heading.textContent ?? "");
    heading.tabIndex = -1;
    heading.focus({ preventScroll: true });
  }
  scrollTo(0, 0);
}

function leave() {
  current?.view.close?.();
  current = null;
}

/** @param {unknown} error */
function failed(error) {
  if (error instanceof Offline) {
    noNetwork();
    return;
  }
  const text = error instanceof Error && error.message ? error.message : t("This did not work.");
  replace(work, h("section", { class: "sheet" }, h("h1", { tabindex: "-1" }, t("This could not be opened")), h("p", null, text),
    h("p", null, h("a", { class: "button", href: "#/cards" }, t("To the job cards")))));
}

function noNetwork() {
  cutOff = true;
  replace(work, h("section", { class: "sheet" }, h("h1", { tabindex: "-1" }, t("No connection")),
    h("p", null, t("There is no connection, and this page cannot be shown without one. What you typed is kept on this tablet.")),
    h("div", { class: "actions" }, h("button", { type: "button", class: "main", onclick: start }, t("Try again")))));
}

function address() {
  const [path, query = ""] = (location.hash.startsWith("#/") ? location.hash.slice(2) : "cards").split("?");
  return { path: path.split("/").map(decodeURIComponent), query: Object.fromEntries(new URLSearchParams(query)) };
}

/**
 * @param {string[]} path
 * @param {Params} query
 * @returns {[string, Params]}
 */
function match(path, query) {
  for (const pattern of Object.keys(SCREENS)) {
    const parts = pattern.split("/");
    if (parts.length !== path.length || !parts.every((each, index) => each.startsWith(":") || each === path[index])) continue;
    const named = parts.flatMap((each, index) => (each.startsWith(":") ? [[each.slice(1), path[index]]] : []));
    return [pattern, { ...query, ...Object.fromEntries(named) }];
  }
  return ["cards", query];
}

/** @param {string} here the first part of the address */
function drawBar(here) {
  const person = whoIsHere();
  bar.hidden = !person;
  if (!person) return;
  replace(bar, h("nav", { "aria-label": t("places") }, ...PLACES.map((each) => h("a", {
    href: each.hash, "aria-current": each.holds.includes(here) ? "page" : null,
  }, each.text))), tablet ? h("button", { type: "button", class: "leave", onclick: () => changeHands() }, t("Change hands"))
    : h("button", { type: "button", class: "leave", onclick: signOut }, t("Sign out")));
  replace(place, h("a", { href: "#/me" }, h("span", null, person.shop.name), h("span", { class: "dot" }, " · "), h("span", null, person.name)));
}

/** Take everything of whoever was here out of sight, and make room for a screen without a person. */
function clear() {
  leave();
  opened += 1;
  stopWatching();
  for (const each of document.querySelectorAll("dialog")) each.close();
  bar.hidden = true;
  replace(place);
  replace(work);
  return h("div", { class: "screen" });
}

/** @param {import("./store.js").Session} answer */
function signedIn({ person, language }) {
  clear();
  setPerson(person);
  keepShared("locked", false);
  if (speak(language)) return;
  say("");
  begin();
}

/** Nobody is signed in: a shared tablet asks for a name and a PIN, any other device for the password. */
const notSignedIn = () => (tablet ? lock() : signIn());

function signIn() {
  const root = clear();
  openSignIn(root, { signedIn, back: tablet ? lock : undefined });
  replace(work, root);
  title(t("Sign in"));
}

function lock() {
  const here = tablet;
  if (!here) return;
  const root = clear();
  current = { screen: null, view: openLock(root, { tablet: here, signedIn, byPassword: signIn, say }), id: undefined };
  replace(work, root);
  title(t("Locked"));
}

/** Whoever is here lets go of the tablet; what they typed stays on it, for them alone. @param {string} [why] */
async function changeHands(why = "") {
  clear();
  say(why);
  keepShared("locked", true);
  // What is on its way is answered before the session it was sent in ends.
  await settled(SETTLE_MS);
  try {
    await endSession();
  } catch (error) {
    if (!(error instanceof Offline)) throw error;
  }
  setPerson(null);
  lock();
}

async function endSession() {
  await remove("/api/session/");
  keepShared("locked", false);
}

/** The screens that open by a secret in the address, whoever is signed in. */
const DOORS = { invited: true, recover: true };

/** @param {string[]} path */
async function door([which, secret = ""]) {
  const root = clear();
  const forget = () => history.replaceState(null, "", "#/cards");
  const ways = {
    signedIn: (/** @type {import("./store.js").Session} */ answer) => {
      forget();
      atDoor = false;
      signedIn(answer);
    },
    leave: () => {
      forget();
      atDoor = false;
      start();
    },
  };
  replace(work, root);
  atDoor = true;
  setPerson(null);
  await (which === "invited" ? invited : recover)(root, secret, ways);
  title(which === "invited" ? t("Invitation") : t("New password"));
}

async function signOut() {
  // Of a card the device also keeps a copy to read from; what was typed on it is what counts.
  const typed = draftNames("card.").filter((name) => !name.endsWith(".copy"));
  const unsent = waiting().length + refused().length + typed.length;
  if (unsent) {
    const sure = await ask({
      title: t("Not everything is sent"),
      body: [h("p", null, tn(unsent, "One change is kept on this tablet only. Signing out deletes what was not sent.", "{n} changes are kept on this tablet only. Signing out deletes what was not sent."))],
      choices: [{ text: t("Sign out and delete"), value: true }, { text: t("Stay signed in"), value: false, main: true }],
    });
    if (!sure) return;
  }
  try {
    await endSession();
  } catch (error) {
    if (!(error instanceof Offline)) throw error;
    say(t("No connection: you are still signed in. Sign out again when the network is back."));
    return;
  }
  forgetPerson();
  say(t("Signed out. Nothing of yours is left on this tablet."));
  history.replaceState(null, "", "#/cards");
  notSignedIn();
}

/** On a shared tablet, watch for nobody being there. */
function watch() {
  stopWatching();
  if (!tablet) return;
  stopWatching = watchIdle(lockAfter, () => changeHands(t("Locked: nobody touched this tablet for a while.")),
    () => get("/api/session/").catch(() => {}));
}

/** The person is known: fetch the units, send what an earlier visit left, open the screen. */
async function begin() {
  try {
    await loadUnits();
  } catch (error) {
    failed(error);
    return;
  }
  await forgetErased();
  pump();
  watch();
  if (whoIsHere()?.second_factor_due) history.replaceState(null, "", "#/me");
  await show();
  void keepFiles();
}

/** Tell the worker what this page was loaded from: it may not have been there yet to see. */
async function keepFiles() {
  const worker = await navigator.serviceWorker?.ready;
  const files = performance.getEntriesByType("resource").map((entry) => entry.name);
  worker?.active?.postMessage([location.origin + "/", ...files]);
}

/** Ask the server who is here; while it cannot be asked, whoever was here last goes on with what the tablet keeps. */
async function start() {
  try {
    // The tablet was locked while the network was away: the session is still to be ended.
    if (readShared("locked")) await endSession();
    const answer = await get("/api/session/");
    tablet = answer.tablet;
    lockAfter = answer.lock_after_s;
    keepShared("tablet", { tablet, lockAfter });
    setPerson(answer.person);
    if (answer.person && speak(answer.language)) return;
  } catch (error) {
    if (!(error instanceof Offline)) {
      failed(error);
      return;
    }
    ({ tablet = null, lockAfter = 0 } = readShared("tablet") ?? {});
    if (!(readShared("locked") || lastPerson())) {
      failed(error);
      return;
    }
    setPerson(readShared("locked") ? null : lastPerson());
    say(t("No connection"));
  }
  if (whoIsHere()) await begin();
  else await show();
}

let wasOffline = false;

/** The calm line: what is on the device only, what went out. */
function drawState() {
  const held = waiting().length;
  const denied = refused().length;
  if (denied) {
    replace(state, h("button", { type: "button", class: "plain", onclick: decide },
      tn(denied, "One change was not accepted: look", "{n} changes were not accepted: look")));
  } else if (held && isOffline()) {
    wasOffline = true;
    say(t("Kept on this tablet — no connection"));
  } else if (!held && wasOffline) {
    wasOffline = false;
    say(t("Sent"));
    // Good news needs no closing by hand.
    setTimeout(() => state.textContent === t("Sent") && say(""), SENT_STANDS_MS);
  }
}

apiEvents.addEventListener("signed-out", () => {
  if (!whoIsHere()) return;
  setPerson(null);
  clear();
  say(t("Your sign-in has run out. What you typed is kept; sign in to go on."));
  start();
});
whenFullIsWanted(fullSignIn);
outboxEvents.addEventListener("state", drawState);
document.addEventListener("coilbook:store-full", () => say(t("This tablet's store is full: what you type now is not kept on it.")));
addEventListener("hashchange", show);
part("skip").addEventListener("click", (event) => {
  event.preventDefault();
  work.focus();
});

addEventListener("online", () => {
  say("");
  if (cutOff) start();
});
// Browsers offer a service worker to secure pages only; without one everything works while there is a network.
navigator.serviceWorker?.register("/worker.js").catch(() => {});

start();
