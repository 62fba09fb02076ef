// @ts-check
/** What the business takes as usual, who works in it and its tools. */

import { get, patch, post } from "../api.js";
import { h, replace } from "../dom.js";
import { day } from "../parts/dates.js";
import { choiceField, numberField, textField, tickField } from "../parts/field.js";
import { form } from "../parts/form.js";
import { listing } from "../parts/listing.js";
import { measure } from "../parts/measure.js";
import { deliver } from "../parts/outbox.js";
import { currency } from "../business/currency.js";
import { helpIn, invitations } from "../business/invitations.js";
import { recordUnits } from "../business/record-units.js";
import { tablets } from "../business/tablets.js";
import { LANGUAGES, t, tn } from "../words.js";
import { ROLES, kindName } from "../parts/kinds.js";

const PARTS = { bands: t("Usual sag"), people: t("People"), shops: t("Shops"), tablets: t("Tablets"), tools: t("Tools") };

/** @param {HTMLElement} root @param {import("../app.js").Params} params @param {import("../app.js").App} app */
export async function open(root, params, app) {
  const here = params.part in PARTS ? params.part : "bands";
  const body = h("div");
  root.append(
    h("div", { class: "screen-head" }, h("h1", null, app.person.business.name)),
    h("nav", { class: "parts", "aria-label": t("parts of the business") }, ...Object.entries(PARTS).map(([part, name]) => h("a", {
      class: "button", href: `#/business?part=${part}`, "aria-current": part === here ? "page" : null,
    }, name)), app.manages ? h("a", { class: "button", href: "#/audit" }, t("Audit")) : null,
      app.manages ? h("a", { class: "button", href: "#/data" }, t("Data in and out")) : null),
    body,
  );
  await ({ bands, people, shops, tablets, tools })[/** @type {"bands"} */ (here)](body, app);
}

/** @param {HTMLElement} body @param {import("../app.js").App} app */
async function bands(body, app) {
  const rows = (await get("/api/kinds/")).results;

  function draw() {
    replace(
      body,
      h("h2", null, t("Usual sag and unsprung mass")),
      h("p", null, t("In percent of travel: front along the fork, rear at the wheel. A card aims at these bands unless it names its own."), " ",
        t("They come from common practice, not from a published source: where a bike’s own manual says otherwise, the manual is right.")),
      h("ul", { class: "rows" }, ...rows.map((/** @type {any} */ row) => h("li", null, app.manages
        ? h("button", { type: "button", class: "row", onclick: () => edit(row) }, ...band(row)) : h("div", { class: "row" }, ...band(row))))),
    );
  }

  /** @param {any} row */
  function edit(row) {
    const percent = (/** @type {string} */ name, /** @type {string} */ label) => numberField({ name, label, quantity: "%", value: row[name], step: 1 });
    const fields = [
      percent("static_low_percent", t("Static sag, least")), percent("static_high_percent", t("Static sag, most")),
      percent("rider_low_percent", t("Rider sag, least")), percent("rider_high_percent", t("Rider sag, most")),
      numberField({ name: "unsprung_kg", label: t("Unsprung mass"), quantity: "mass", band: `${row.end}.unsprung_kg`, value: row.unsprung_kg }),
      textField({ name: "source", label: t("Source"), value: row.source, maxlength: 200, hint: t("Where these numbers come from; say so if it is only practice.") }),
    ];
    const draftName = `kind.${row.id}`;
    const sheet = form({
      title: kindAndEnd(row), fields, submit: t("Save"), draftName, version: row.version,
      layout: [h("div", { class: "pair" }, ...fields.map((field) => field.element))],
      extra: [h("button", { type: "button", onclick: draw }, t("Back"))],
      send: (values, version) => deliver({ method: "PATCH", path: `/api/kinds/${row.id}/`, body: values, version, about: kindAndEnd(row), draft: draftName }),
      done: (saved) => {
        rows.splice(rows.indexOf(row), 1, saved);
        app.say(t("Saved"));
        draw();
      },
    });
    replace(body, h("section", { class: "sheet" }, sheet.element));
    fields[0].focus();
  }

  draw();
}

/** @param {any} row */
const kindAndEnd = (row) => `${kindName(row.kind)}, ${row.end === "front" ? t("front") : t("rear")}`;

/** @param {any} row */
function band(row) {
  return [
    h("span", { class: "row-key" }, row.end === "front" ? t("front") : t("rear")),
    h("span", { class: "row-name" }, kindName(row.kind)),
    h("span", { class: "row-side digits" }, t("rider sag {low} to {high} %", { low: row.rider_low_percent, high: row.rider_high_percent })),
    h("span", { class: "row-more" }, t("static sag {low} to {high} %", { low: row.static_low_percent, high: row.static_high_percent }), ` · ${t("unsprung")} `,
      measure(row.unsprung_kg, "mass", { fixed: true }), ` · ${row.source}`),
  ];
}

/**
 * A list of rows with a form above it, for people and tools.
 *
 * @param {HTMLElement} body
 * @param {{path: string, label: string, hint: string, add: string, what: string, app: import("../app.js").App,
 *          row: (item: any) => (HTMLElement | null)[], named: (count: number) => string, empty: string,
 *          fields: (item: any) => import("../parts/field.js").Field[], name: (item: any) => string, searched?: boolean,
 *          adds?: "manager" | "owner", sends?: (values: any) => any,
 *          extras?: (item: any, show: (place: HTMLElement) => void) => HTMLElement[]}} options
 *   `extras`: buttons beside the form of one that is there already; `adds`: the least role that may add one; `sends`: what a new one is sent as
 */
async function register(body, { path, label, hint, add, adds = "manager", what, app, row, named, empty, fields, name, searched, extras = () => [], sends = (values) => ({ shop: app.person.shop.id, ...values }) }) {
  const { manages, say } = app;
  const owns = app.person.role === "owner";
  const shop = app.person.shop.id;
  // A manager changes what belongs to the own shop; the rest of the business is there to be read.
  const mine = (/** @type {any} */ item) => owns || (manages && (item.shop ?? item.id) === shop);
  const panel = h("div");
  const list = listing({
    path, label, hint, named, searched, empty: [h("p", null, empty)], nothing: (search) => t("Nothing matches “{search}”.", { search }),
    row: (item) => h("li", null, mine(item) ? h("button", { type: "button", class: "row", onclick: () => edit(item) }, ...row(item)) : h("div", { class: "row" }, ...row(item))),
  });

  /** @param {any} item */
  function edit(item) {
    const made = fields(item);
    const draftName = `${what}.${item?.id ?? "new"}`;
    const sheet = form({
      title: item ? name(item) : add, fields: made, submit: t("Save"), draftName, version: item?.version ?? null,
      layout: [h("div", { class: "pair" }, ...made.map((field) => field.element))],
      extra: [h("button", { type: "button", onclick: () => replace(panel) }, t("Back")), ...(item ? extras(item, (place) => replace(panel, place)) : [])],
      send: (values, version) => {
        // A blank password means: leave it as it is.
        const sent = Object.fromEntries(Object.entries(values).filter(([key, value]) => key !== "password" || value));
        // A password must not lie on the device while the network is away: it is sent now or not at all.
        if (sent.password) return item ? patch(`${path}${item.id}/`, sent, version) : post(path, sends(sent));
        return item
          ? deliver({ method: "PATCH", path: `${path}${item.id}/`, body: sent, version, about: name(item), draft: draftName })
          : deliver({ method: "POST", path, body: sends(sent), about: add, draft: draftName });
      },
      done: (saved) => {
        say(t("{what} saved", { what: name(saved) }));
        replace(panel);
        list.again();
      },
    });
    replace(panel, h("section", { class: "sheet" }, sheet.element));
    panel.scrollIntoView({ block: "start" });
    made[0].focus();
  }

  replace(body, panel, (adds === "owner" ? owns : manages) ? h("div", { class: "actions first" }, h("button", { type: "button", class: "main", onclick: () => edit(null) }, add)) : null, list.element);
  await list.again();
}

/** @param {HTMLElement} body @param {import("../app.js").App} app */
async function people(body, app) {
  const shops = (await get("/api/shops/")).results;
  const mine = app.person.role === "owner" ? shops : shops.filter((/** @type {any} */ shop) => shop.id === app.person.shop.id);
  const roles = (app.person.role === "owner" ? ["technician", "manager", "owner"] : ["technician", "manager"]).map((role) => ({ value: role, text: ROLES[role] }));
  const list = h("div");
  replace(body, app.manages ? invitations(app, roles, mine) : null, list);
  await register(list, {
    extras: (person, show) => helpIn(app, person, show),
    path: "/api/people/", label: t("Find a person"), hint: t("Name or e-mail."), add: t("New person"), what: "person", app,
    named: (count) => tn(count, "1 person", "{n} people"), empty: t("Nobody yet."), name: (person) => person.name,
    row: (person) => [
      h("span", { class: "row-key" }, ROLES[person.role]), h("span", { class: "row-name" }, person.name),
      h("span", { class: "row-side soft" }, person.is_active ? (person.second_factor ? t("second factor") : "") : t("has left")), h("span", { class: "row-more" }, `${person.email} · ${person.shop_name}`),
    ],
    fields: (person) => [
      textField({ name: "name", label: t("Name"), value: person?.name, required: true, maxlength: 120 }),
      textField({ name: "email", label: t("E-mail"), value: person?.email, type: "email", required: true }),
      choiceField({ name: "role", label: t("Role"), choices: roles, value: person?.role ?? "technician" }),
      choiceField({ name: "shop", label: t("Shop"), list: true, value: person?.shop ?? app.person.shop.id, choices: mine.map((/** @type {any} */ shop) => ({ value: shop.id, text: shop.name })) }),
      secret(textField({ name: "password", label: person ? t("New password") : t("First password"), type: "password", autocomplete: "new-password",
        hint: person ? t("Blank leaves it as it is.") : t("At least 10 characters; they change it after signing in.") })),
      ...(person ? [tickField({ name: "is_active", label: t("May sign in"), value: person.is_active, hint: t("Clear it when somebody leaves; what they signed off stays.") })] : []),
    ],
  });
}

/** @param {HTMLElement} body @param {import("../app.js").App} app */
async function shops(body, app) {
  const papers = ["A4", "Letter"].map((paper) => ({ value: paper, text: paper }));
  const list = h("div");
  replace(body, await currency(app), list);
  await register(list, {
    path: "/api/shops/", label: "", hint: "", searched: false, add: t("New shop"), adds: "owner", what: "shop", app, sends: (values) => values,
    named: (count) => tn(count, "1 shop", "{n} shops"), empty: t("No shop."), name: (shop) => shop.name,
    row: (shop) => [
      h("span", { class: "row-key" }, shop.code), h("span", { class: "row-name" }, shop.name),
      h("span", { class: "row-side soft" }, shop.paper), h("span", { class: "row-more" }, [shop.address, shop.phone, shop.time_zone].filter(Boolean).join(" · ")),
    ],
    fields: (shop) => [
      textField({ name: "name", label: t("Name"), value: shop?.name, required: true, maxlength: 120 }),
      ...(shop ? [] : [textField({ name: "code", label: t("Code"), required: true, maxlength: 6, hint: t("Begins every card number; it stays.") })]),
      textField({ name: "address", label: t("Address"), value: shop?.address, lines: 3, hint: t("Printed on the record.") }),
      textField({ name: "phone", label: t("Phone"), value: shop?.phone, type: "tel", maxlength: 40 }),
      textField({ name: "time_zone", label: t("Time zone"), value: shop?.time_zone ?? "UTC", hint: t("Area and city as a clock’s settings name them, like Area/City.") }),
      choiceField({ name: "language", label: t("Language"), value: shop?.language ?? "en", choices: Object.entries(LANGUAGES).map(([value, text]) => ({ value, text })),
        hint: t("Of its records, and of what customers read.") }),
      recordUnits(shop?.units),
      choiceField({ name: "paper", label: t("Paper"), choices: papers, value: shop?.paper ?? "A4" }),
    ],
  });
}

/** @param {HTMLElement} body @param {import("../app.js").App} app */
async function tools(body, app) {
  const kinds = [["torque_wrench", t("torque wrench")], ["scale", t("scale")], ["spring_tester", t("spring tester")], ["gauge", t("gauge")]].map(([value, text]) => ({ value, text }));
  await register(body, {
    path: "/api/tools/", label: t("Find a tool"), hint: t("Name or serial number."), add: t("New tool"), what: "tool", app,
    named: (count) => tn(count, "1 tool", "{n} tools"), name: (tool) => tool.name,
    empty: t("No tool yet. The record names the wrench that tightened each fastener and when it was calibrated: enter the torque wrenches first."),
    row: (tool) => [
      h("span", { class: "row-key digits" }, tool.serial), h("span", { class: "row-name" }, tool.name),
      h("span", { class: "row-side" }, tool.in_use ? due(tool.due_on, tool.out_of_calibration) : t("out of use")),
      h("span", { class: "row-more" }, [tool.kind_label, tool.shop_name, tool.kind === "torque_wrench" ? t("{n} of 5000 cycles since calibration", { n: tool.cycles_since_calibration }) : ""].filter(Boolean).join(" · ")),
    ],
    fields: (tool) => [
      choiceField({ name: "kind", label: t("Kind"), choices: kinds, value: tool?.kind ?? "torque_wrench", list: true }),
      textField({ name: "name", label: t("Name"), value: tool?.name, required: true, maxlength: 120 }),
      textField({ name: "serial", label: t("Serial number"), value: tool?.serial, required: true, maxlength: 60 }),
      textField({ name: "calibrated_on", label: t("Calibrated on"), type: "date", value: tool?.calibrated_on }),
      textField({ name: "calibration_due", label: t("Calibration due"), type: "date", value: tool?.calibration_due, hint: t("As the certificate says; a torque wrench at the latest 12 months on.") }),
      ...(tool?.kind === "torque_wrench" && app.manages ? [numberField({
        name: "cycles_since_calibration", label: t("Cycles since calibration"), quantity: "", decimals: 0, value: tool.cycles_since_calibration, step: 10,
        hint: t("Each tightening counts one; a new calibration starts them afresh."),
      })] : []),
      textField({ name: "certificate", label: t("Certificate"), value: tool?.certificate, maxlength: 120 }),
      tickField({ name: "in_use", label: t("In use"), value: tool?.in_use ?? true }),
    ],
  });
}

/** @param {string | null} date @param {boolean} out */
function due(date, out) {
  if (!date) return t("no calibration date");
  if (out && new Date(date) >= new Date()) return t("overdue by its cycles");
  return out ? t("overdue since {date}", { date: day(date) }) : t("due {date}", { date: day(date) });
}

/** A password is typed but never kept on the device. @param {import("../parts/field.js").Field} field */
function secret(field) {
  return { ...field, get value() {
    return field.value;
  }, secret: true };
}
