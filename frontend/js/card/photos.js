// @ts-check
/** Photos of readings, defects and parts: taken with the tablet's camera, said what they show, each opened by a touch. */
import * as api from "../api.js";
import { h, replace } from "../dom.js";
import { moment } from "../parts/dates.js";
import { ask } from "../parts/dialog.js";
import { choiceField, textField } from "../parts/field.js";
import { withUnit } from "../units.js";
import { t } from "../words.js";
import { keepFocus } from "./paint.js";
import { pathName } from "./words.js";

const LARGEST_BYTES = 8 * 1024 * 1024;
const TITLES = { reading: t("Photos of readings"), defect: t("Photos of defects"), part: t("Photos of parts") };
const HINTS = {
  reading: t("What the tape or the scale shows, if it is not plain to see."),
  defect: t("What is wrong, and where: “left stanchion, nick 40 mm above the seal”."),
  part: t("Which part, and what is to be seen of it."),
};

/**
 * @param {import("./desk.js").Desk} desk
 * @param {"reading" | "defect" | "part"} about what a photo taken here shows
 * @param {string} [stage] of the readings that a photo taken here may show
 */
export function photoPlace(desk, about, stage) {
  const list = h("ul", { class: "photos" });
  const state = h("p", { class: "aside", role: "status" });
  const input = h("input", { type: "file", accept: "image/*", capture: "environment", id: `photo-${about}`, onchange: () => void take() });
  const camera = h("label", { class: "button photo-button" }, t("Take a photo"), input);
  let drawn = "";

  async function take() {
    const [file] = input.files ?? [];
    input.value = "";
    if (!file) return;
    if (file.size > LARGEST_BYTES) {
      replace(state, t("This photo is larger than 8 MB: take it at a lower resolution."));
      return;
    }
    const shows = await whatItShows(desk, about, stage);
    if (!shows) return;
    replace(state, t("Sending the photo."));
    const query = new URLSearchParams({ about, ...shows });
    const card = await desk.act(t("keep the photo"), () => api.upload(`${desk.path}photos/?${query}`, file));
    replace(state, card ? "" : t("Not kept: a photo needs the network. Take it again when it is back."));
  }

  const sync = () => {
    const shown = (desk.card.photos ?? []).filter((/** @type {any} */ one) => one.about === about);
    camera.hidden = !desk.open;
    const now = JSON.stringify([shown, desk.open, desk.mine]);
    if (now === drawn) return;
    drawn = now;
    keepFocus(list, () => replace(list, ...shown.map((/** @type {any} */ one) => thumbnail(desk, one))));
  };
  sync();
  return { node: h("section", { class: "photo-place" }, h("h3", null, TITLES[about]), list, camera,
    h("p", { class: "aside" }, t("Photograph the part, never a person. Place and device are taken out. Needs the network.")), state), sync };
}

/**
 * Ask what a photo shows: a caption, and of a reading which one. Answers the query that says so, null to keep nothing.
 *
 * @param {import("./desk.js").Desk} desk
 * @param {"reading" | "defect" | "part"} about
 * @param {string} [stage]
 * @returns {Promise<Record<string, string> | null>}
 */
async function whatItShows(desk, about, stage) {
  const readings = about === "reading" ? desk.card.readings.filter((/** @type {any} */ one) => one.stage === stage && !one.struck) : [];
  const which = choiceField({
    name: "reading", label: t("Which reading"), list: true, value: null,
    choices: [{ value: null, text: t("none of them") }, ...readings.toReversed().map((/** @type {any} */ one) => ({ value: one.id, text: readingWords(one) }))],
  });
  const caption = textField({ name: "caption", label: t("What it shows"), maxlength: 200, hint: HINTS[about] });
  const go = await ask({
    title: t("Keep this photo?"), body: [readings.length ? which.element : null, caption.element],
    choices: [{ text: t("Do not keep it"), value: false }, { text: t("Keep it"), value: true, main: true }],
  });
  if (!go) return null;
  const said = caption.value.trim();
  return { ...(which.value ? { reading: String(which.value) } : {}), ...(said ? { caption: said } : {}) };
}

/** @param {any} one a reading */
function readingWords(one) {
  return `${pathName(`${one.end}.${one.quantity}`)}: ${withUnit(one.value, one.quantity.endsWith("_kg") ? "mass" : "length")}`;
}

/**
 * @param {import("./desk.js").Desk} desk
 * @param {any} one
 */
function thumbnail(desk, one) {
  const reading = desk.card.readings.find((/** @type {any} */ each) => each.id === one.reading);
  const shows = [reading ? readingWords(reading) : "", one.caption].filter(Boolean).join(": ");
  const said = `${one.about_label}, ${one.taken_by_name}, ${moment(one.taken_at)}${shows ? `: ${shows}` : ""}`;
  const at = `${desk.path}photos/${one.id}/`;
  const acts = h("div", { class: "photo-acts" }, ...acting(desk, one, said, at));
  if (one.erased) return h("li", { class: "struck" }, h("span", null, t("Erased on request: {said}", { said })));
  if (one.struck) return h("li", { class: "struck" }, h("span", null, t("Struck: {said}", { said })), acts);
  return h("li", null,
    h("a", { href: at, target: "_blank", rel: "noopener" },
      h("img", { src: `${at}?size=small`, alt: t("Photo of {said}", { said }), width: one.width_px, height: one.height_px })),
    shows ? h("span", { class: "photo-shows" }, shows) : null, acts);
}

/**
 * @param {import("./desk.js").Desk} desk
 * @param {any} one
 * @param {string} said
 * @param {string} at
 */
function acting(desk, one, said, at) {
  if (!desk.mine) return [];
  const of = () => h("span", { class: "quiet" }, " ", t("the photo of {said}", { said }));
  const button = (/** @type {string} */ text, /** @type {() => void} */ onclick) =>
    h("button", { type: "button", class: "quiet-button", onclick }, text, of());
  if (!desk.card.record) return [button(t("Remove"), () => withReason(desk, `${at}removal/`, {
    title: t("Remove the photo?"), words: t("It is gone for good."), go: t("Remove it"), doing: t("remove the photo"),
  }))];
  const strike = button(t("Strike"), () => withReason(desk, `${at}removal/`, {
    title: t("Strike the photo?"), words: t("It is struck and kept: the record holds its digest. Only managers can still open it."),
    go: t("Strike it"), doing: t("strike the photo"),
  }));
  const erase = button(t("Erase"), () => withReason(desk, `${at}erasure/`, {
    title: t("Erase the photo?"), words: t("Picture and caption are gone for good; the record keeps the digest and still holds."),
    go: t("Erase it"), doing: t("erase the photo"),
  }));
  return [one.struck ? null : strike, desk.hands.person.role === "technician" ? null : erase].filter((each) => each !== null);
}

/**
 * @param {import("./desk.js").Desk} desk
 * @param {string} path
 * @param {{title: string, words: string, go: string, doing: string}} said
 */
async function withReason(desk, path, { title, words, go, doing }) {
  const reason = textField({ name: "reason", label: t("Why"), maxlength: 300, hint: t("Stays in the list of changes; name nobody.") });
  const yes = await ask({
    title, body: [h("p", null, words), reason.element],
    choices: [{ text: t("Back"), value: false }, { text: go, value: true, main: true }],
  });
  if (yes) await desk.act(doing, () => api.post(path, { reason: reason.value }));
}
