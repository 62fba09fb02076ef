// @ts-check
/** The cautions of a step: shown before the action, read one by one, then folded to a line. */
import { h, replace } from "../dom.js";
import { keepFocus } from "./paint.js";
import { t, tn } from "../words.js";

/** The signal words of ANSI Z535.6; the code decides how a caution is drawn. @type {Record<string, string>} */
const SIGNALS = { DANGER: t("DANGER"), WARNING: t("WARNING"), CAUTION: t("CAUTION"), NOTICE: t("NOTICE") };

/**
 * @param {import("./desk.js").Desk} desk
 * @param {string} step
 */
function cautionsOf(desk, step) {
  return desk.card.cautions.filter((/** @type {any} */ one) => one.step === step);
}

/**
 * Whether somebody has read the caution, on the server or, while the network is away, on this device.
 * @param {import("./desk.js").Desk} desk
 * @param {any} caution
 */
function isRead(desk, caution) {
  return Boolean(caution.read_at) || desk.outbox.some((change) => change.path === readPath(desk, caution));
}

/**
 * How many cautions of a step nobody has read yet.
 * @param {import("./desk.js").Desk} desk
 * @param {string} step
 */
export function unread(desk, step) {
  return cautionsOf(desk, step).filter((/** @type {any} */ one) => !isRead(desk, one)).length;
}

/**
 * @param {import("./desk.js").Desk} desk
 * @param {string} step
 */
export function cautionList(desk, step) {
  const node = h("section", { class: "cautions", "aria-label": t("Cautions before this step") });
  const past = h("details", { class: "cautions-read" });
  let drawn = "";
  const sync = () => {
    const all = cautionsOf(desk, step);
    const open = all.filter((/** @type {any} */ one) => !isRead(desk, one));
    const read = all.filter((/** @type {any} */ one) => isRead(desk, one));
    const now = JSON.stringify([all, open.length, desk.open]);
    if (now === drawn) return;
    drawn = now;
    keepFocus(node, () => replace(node, ...open.map((/** @type {any} */ one) => caution(desk, one, false))));
    node.hidden = !open.length;
    keepFocus(past, () => replace(
      past, h("summary", null, tn(read.length, "{n} caution read", "{n} cautions read")),
      ...read.map((/** @type {any} */ one) => caution(desk, one, true)),
    ));
    past.hidden = !read.length;
  };
  sync();
  return { node, past, sync };
}

/**
 * @param {import("./desk.js").Desk} desk
 * @param {any} one
 * @param {boolean} read
 */
function caution(desk, one, read) {
  return h(
    "article", { class: "caution", "data-word": one.word },
    h("p", { class: "signal" }, SIGNALS[one.word] ?? one.word),
    h("p", { class: "caution-text" }, one.text),
    read ? h("p", { class: "caution-by" }, one.read_by_name ? t("Read by {who}", { who: one.read_by_name }) : t("Read; waits on this device for the network"))
      : desk.open ? h("button", {
        type: "button", name: `caution-${one.key}`, onclick: () => desk.send(readPath(desk, one), t("a caution was read")),
      }, t("Read and understood")) : null,
  );
}

/**
 * @param {import("./desk.js").Desk} desk
 * @param {any} caution
 */
const readPath = (desk, caution) => `${desk.path}cautions/${caution.key}/read/`;
