// @ts-check
/** The customer's link: made here, its secret shown once, revoked here. */
import * as api from "../api.js";
import { h, replace } from "../dom.js";
import { during } from "../parts/busy.js";
import { day } from "../parts/dates.js";
import { numberField, tickField } from "../parts/field.js";
import { keepFocus } from "./paint.js";
import { t, tn } from "../words.js";

/** @param {import("./desk.js").Desk} desk */
export function links(desk) {
  const days = numberField({ name: "days", label: t("Open for"), quantity: t("days"), value: 30, step: 1 });
  const mass = tickField({ name: "share_mass", label: t("Show rider mass and axle loads on it"), hint: t("Left off, neither is on the customer's page.") });
  const fresh = h("div", { class: "fresh-link", role: "status" });
  const list = h("ul", { class: "links" });
  const make = h("button", {
    type: "button", class: "main", id: "make-link",
    onclick: () => during(make, async () => {
      const made = await desk.act(t("make the customer's link"), () => api.post(`${desk.path}links/`, { days: days.value, share_mass: mass.value }), {
        onProblems: (problems) => days.problem(problems[0].text),
      });
      if (!made) return;
      replace(fresh, ...freshLink(new URL(made.url, location.origin).href));
      await desk.reload();
      draw();
    }),
  }, t("Make the customer's link"));
  const draw = () => keepFocus(list, () => replace(list, ...desk.card.links.map((/** @type {any} */ link) => linkLine(desk, link, draw))));
  draw();
  return h(
    "section", { class: "links-place" },
    h("h3", null, t("The customer's link")),
    h("p", { class: "aside" }, t("Shows this one record, read only, on the customer's phone. It runs out by itself and can be revoked.")),
    desk.mine ? h("div", { class: "group-fields" }, days.element, mass.element) : null,
    desk.mine ? make : null, fresh, list,
  );
}

/** @param {string} url @param {string} [what] makes the id of the field its own */
export function freshLink(url, what = "link") {
  const shown = h("input", { type: "text", id: `${what}-url`, readonly: true, value: url, "aria-label": t("The customer's link") });
  const said = h("span", { role: "status" });
  const copy = h("button", {
    type: "button", id: `copy-${what}`, onclick: async () => {
      try {
        await navigator.clipboard.writeText(url);
        said.textContent = t("Copied.");
      } catch {
        shown.select();
        said.textContent = t("Marked: copy it by hand.");
      }
    },
  }, t("Copy"));
  return [h("p", null, t("Shown this once: pass it on now. Nobody can read it again here.")), h("div", { class: "link-row" }, shown, copy), said];
}

/**
 * @param {import("./desk.js").Desk} desk
 * @param {any} link
 * @param {() => void} draw
 */
function linkLine(desk, link, draw) {
  const over = link.revoked_at ? t("revoked") : new Date(link.expires_at) < new Date() ? t("run out") : t("open until {when}", { when: day(link.expires_at) });
  const revoke = h("button", {
    type: "button", class: "quiet-button", id: `revoke-${link.id}`,
    onclick: () => during(revoke, async () => {
      await desk.act(t("revoke the link"), () => api.post(`${desk.path}links/${link.id}/revoke/`, {}));
      await desk.reload();
      draw();
    }),
  }, t("Revoke"));
  const mass = link.share_mass ? t("with rider mass") : t("without rider mass");
  return h(
    "li", null,
    h("span", null, tn(link.openings, "{over}; made by {who}; opened {n} time; {mass}", "{over}; made by {who}; opened {n} times; {mass}", { over, who: link.made_by_name, mass })),
    link.revoked_at || !desk.mine ? null : revoke,
  );
}
