// @ts-check
/** Photos of readings and defects: taken with the tablet's camera, thumbnails on the card, each opened by a touch. */
import * as api from "../api.js";
import { h, replace } from "../dom.js";
import { moment } from "../parts/dates.js";
import { ask } from "../parts/dialog.js";
import { textField } from "../parts/field.js";
import { keepFocus } from "./paint.js";
import { t } from "../words.js";

const TITLES = { reading: t("Photos of readings"), defect: t("Photos of defects"), part: t("Photos of parts") };
const LARGEST_BYTES = 8 * 1024 * 1024;

/**
 * @param {import("./desk.js").Desk} desk
 * @param {"reading" | "defect" | "part"} about what a photo taken here shows
 */
export function photoPlace(desk, about) {
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
    replace(state, t("Sending the photo."));
    const card = await desk.act(t("keep the photo"), () => api.upload(`${desk.path}photos/?about=${about}`, file));
    replace(state, card ? "" : t("Not kept: a photo needs the network. Take it again when it is back."));
  }

  const sync = () => {
    const shown = (desk.card.photos ?? []).filter((/** @type {any} */ one) => one.about === about);
    camera.hidden = !desk.open;
    const now = JSON.stringify([shown, desk.open]);
    if (now === drawn) return;
    drawn = now;
    keepFocus(list, () => replace(list, ...shown.map((/** @type {any} */ one) => thumbnail(desk, one))));
  };
  sync();
  return { node: h("section", { class: "photo-place" }, h("h3", null, TITLES[about]), list, camera,
    h("p", { class: "aside" }, t("Photograph the part, never a person. Place and device are taken out. Needs the network.")), state), sync };
}

/**
 * @param {import("./desk.js").Desk} desk
 * @param {any} one
 */
function thumbnail(desk, one) {
  const said = `${one.about_label}, ${one.taken_by_name}, ${moment(one.taken_at)}${one.caption ? `: ${one.caption}` : ""}`;
  if (one.struck) return h("li", { class: "struck" }, h("span", null, t("Struck: {said}", { said })));
  const at = `${desk.path}photos/${one.id}/`;
  return h("li", null,
    h("a", { href: at, target: "_blank", rel: "noopener" }, h("img", { src: `${at}?size=small`, alt: t("Photo of {said}", { said }), width: one.width_px, height: one.height_px })),
    desk.mine ? h("button", { type: "button", class: "quiet-button", onclick: () => remove(desk, one, at) },
      desk.card.record ? t("Strike") : t("Remove"), h("span", { class: "quiet" }, " ", t("the photo of {said}", { said }))) : null);
}

/**
 * @param {import("./desk.js").Desk} desk
 * @param {any} one
 * @param {string} at
 */
async function remove(desk, one, at) {
  const reason = textField({ name: "reason", label: t("Why"), maxlength: 300, hint: t("Stays in the list of changes; name nobody.") });
  const words = desk.card.record ? t("It is struck and kept: the record holds its digest. Only managers can still open it.") : t("It is gone for good.");
  const go = await ask({
    title: desk.card.record ? t("Strike the photo?") : t("Remove the photo?"), body: [h("p", null, words), reason.element],
    choices: [{ text: t("Back"), value: false }, { text: desk.card.record ? t("Strike it") : t("Remove it"), value: true, main: true }],
  });
  if (go) await desk.act(t("remove the photo"), () => api.post(`${at}removal/`, { reason: reason.value }));
}
