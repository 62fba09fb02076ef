// @ts-check
/** Two ways in by a link whose secret stands in the address's fragment: an invitation, and a new password. */

import { Offline, Refused, get, post } from "../api.js";
import { h, replace } from "../dom.js";
import { during } from "../parts/busy.js";
import { textField } from "../parts/field.js";
import { problemList, showProblems } from "../parts/problems.js";
import { sheet } from "./sign-in.js";
import { t } from "../words.js";
import { ROLES } from "../parts/kinds.js";
import { languageSwitch } from "../parts/language.js";

/**
 * @typedef {{signedIn: (answer: import("../store.js").Session) => void, leave: () => void}} Door
 *   `leave`: forget the address and go to the sign-in
 */

/** @param {HTMLElement} root @param {string} secret @param {Door} door */
export async function invited(root, secret, door) {
  const place = h("section", { class: "sheet narrow" });
  root.append(place);
  let offer;
  try {
    await get("/api/session/");
    offer = await post("/api/invitations/open/", { secret });
  } catch (error) {
    closed(place, error, t("This invitation does not open"), t("It was used already, taken back, or is older than a week. Ask whoever invited you for a new one."), door);
    return;
  }
  const name = textField({ name: "name", label: t("Your name"), autocomplete: "name", required: true, maxlength: 120, hint: t("As it shall stand beside what you sign off.") });
  const password = textField({ name: "password", label: t("Password"), type: "password", autocomplete: "new-password", required: true, hint: t("At least 10 characters.") });
  const list = problemList();
  const button = h("button", { type: "submit", class: "main" }, t("Come in"));
  const go = () => attempt(list, { name, password }, async () => {
    door.signedIn(await post("/api/invitations/accept/", { secret, name: name.value.trim(), password: password.value }));
  });
  replace(
    place, h("h1", { tabindex: "-1" }, offer.shop),
    h("p", null, t("{who} invites you to work at {shop}, {business}, as {role}. You sign in with {email}.", { who: offer.invited_by, shop: offer.shop, business: offer.business, role: ROLES[offer.role] ?? offer.role, email: offer.email })),
    sheet(t("Invitation"), () => during(button, go, t("Coming in…")), h("input", { type: "email", autocomplete: "username", value: offer.email, hidden: true }),
      list, name.element, password.element, h("div", { class: "actions" }, button)),
  );
}

/** @param {HTMLElement} root @param {string} secret @param {Door} door */
export async function recover(root, secret, door) {
  const place = h("section", { class: "sheet narrow" });
  const password = textField({ name: "password", label: t("New password"), type: "password", autocomplete: "new-password", required: true, hint: t("At least 10 characters.") });
  const list = problemList();
  const button = h("button", { type: "submit", class: "main" }, t("Set it"));
  const go = () => attempt(list, { password }, async () => {
    await get("/api/session/");
    try {
      await post("/api/recovery/use/", { secret, password: password.value });
    } catch (error) {
      if (!(error instanceof Refused) || error.status !== 404) throw error;
      closed(place, error, t("This link does not open"), t("It was used already, or is older than an hour. Ask for a new one where you sign in."), door);
      return;
    }
    replace(place, h("h1", { tabindex: "-1" }, t("The password is set")), h("p", null, t("You are signed out everywhere. Sign in with the new one.")),
      h("div", { class: "actions" }, h("button", { type: "button", class: "main", onclick: door.leave }, t("To the sign-in"))));
    place.querySelector("h1")?.focus();
  });
  replace(place, h("h1", { tabindex: "-1" }, t("A new password")),
    sheet(t("Recovery"), () => during(button, go, t("Setting it…")), list, password.element, h("div", { class: "actions" }, button)));
  root.append(place, languageSwitch());
}

/** @param {HTMLElement} list @param {Record<string, import("../parts/field.js").Field>} fields @param {() => Promise<void>} work */
async function attempt(list, fields, work) {
  try {
    await work();
  } catch (error) {
    if (error instanceof Refused) showProblems(error.problems, fields, list);
    else if (error instanceof Offline) showProblems([{ field: "", code: "offline", text: t("No connection: try again when the network is back.") }], {}, list);
    else throw error;
  }
}

/** @param {HTMLElement} place @param {unknown} error @param {string} title @param {string} text @param {Door} door */
function closed(place, error, title, text, door) {
  if (!(error instanceof Refused || error instanceof Offline)) throw error;
  const said = error instanceof Offline ? t("There is no connection: open the link again when the network is back.") : error.status === 404 ? text : error.message;
  replace(place, h("h1", { tabindex: "-1" }, title), h("p", null, said),
    h("div", { class: "actions" }, h("button", { type: "button", onclick: door.leave }, t("To the sign-in"))));
}
