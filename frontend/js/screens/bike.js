// @ts-check
/** A bike: what is known of each end and where it comes from, and every job done to it in any shop of the business. */

import { get } from "../api.js";
import { chassisFacts, chassisForm } from "../bike/chassis.js";
import { historyList } from "../bike/history.js";
import { ownerForm } from "../bike/owner.js";
import { mergedEntries, twinFinder } from "../bike/twin.js";
import { h, replace } from "../dom.js";
import { endFacts, endForm } from "../parts/end-data.js";
import { choiceField, numberField, textField } from "../parts/field.js";
import { form } from "../parts/form.js";
import { KINDS, kindName } from "../parts/kinds.js";
import { deliver } from "../parts/outbox.js";
import { t } from "../words.js";

/** @param {HTMLElement} root @param {import("../app.js").Params} params @param {import("../app.js").App} app */
export async function open(root, params, app) {
  const path = `/api/bikes/${params.id}/`;
  const [first, history, kinds, merges] = await Promise.all([
    get(path), get(`${path}history/`), get("/api/kinds/"), get(`${path}merges/`),
  ]);
  let bike = first;
  if (bike.merged_into) {
    root.append(h("h1", null, bike.title), h("p", null, t("This bike was entered twice; its jobs are kept with the other entry."), " ",
      h("a", { class: "touch", href: `#/bikes/${bike.merged_into}` }, t("Open that one"))));
    return;
  }
  const heading = h("h1");
  const facts = h("section", { class: "sheet" });
  const ends = { front: h("section", { class: "sheet" }), rear: h("section", { class: "sheet" }) };
  const chassis = h("details", { class: "sheet chassis" });

  /** @param {any} saved */
  function saved(saved) {
    bike = saved;
    app.say(t("Saved"));
    draw();
  }

  function drawFacts() {
    replace(heading, bike.title);
    replace(
      facts,
      h("dl", { class: "facts" },
        fact(t("Plate"), bike.plate), fact(t("Frame number"), bike.frame_number), fact(t("Kind"), kindName(bike.kind)),
        h("div", null, h("dt", null, t("Owner")), h("dd", null, bike.owner ? h("a", { class: "touch", href: `#/customers/${bike.owner}` }, bike.owner_name) : t("not known")))),
      bike.notes ? h("p", null, h("span", { class: "soft" }, t("For the workshop only:")), " ", bike.notes) : null,
      mergedEntries(merges, bike.id, again, (text) => app.say(text)),
      h("div", { class: "actions" },
        h("button", { type: "button", onclick: findTwin }, t("Entered twice")),
        h("button", { type: "button", onclick: changeOwner }, bike.owner ? t("Another owner") : t("Enter the owner")),
        h("button", { type: "button", onclick: editFacts }, t("Change"))),
    );
  }

  /** The whole screen afresh: jobs came or went. */
  function again() {
    app.say(t("Saved"));
    root.replaceChildren();
    void open(root, params, app);
  }

  function findTwin() {
    replace(facts, twinFinder({ bike, done: again, back: drawFacts }));
    facts.querySelector("input")?.focus();
  }

  function changeOwner() {
    const standing = history.filter((/** @type {any} */ card) => !card.record);
    replace(facts, ownerForm({ bike, open: standing, done: again, back: drawFacts }));
    facts.querySelector("input")?.focus();
  }

  function editFacts() {
    const fields = [
      textField({ name: "make", label: t("Make"), value: bike.make, required: true, maxlength: 60 }),
      textField({ name: "model", label: t("Model"), value: bike.model, required: true, maxlength: 60 }),
      numberField({ name: "year", label: t("Year"), quantity: "", decimals: 0, value: bike.year, start: new Date().getFullYear() }),
      textField({ name: "plate", label: t("Plate"), value: bike.plate, maxlength: 20 }),
      textField({ name: "frame_number", label: t("Frame number"), value: bike.frame_number, maxlength: 40 }),
      choiceField({ name: "kind", label: t("Kind of bike"), choices: KINDS, value: bike.kind }),
      textField({ name: "notes", label: t("Notes for the workshop"), value: bike.notes, lines: 3 }),
    ];
    const draftName = `bike.${bike.id}`;
    const sheet = form({
      title: t("Bike"), fields, submit: t("Save"), draftName, version: bike.version, done: saved,
      layout: [h("div", { class: "pair" }, ...fields.slice(0, 5).map((field) => field.element)), fields[5].element, fields[6].element],
      extra: [h("button", { type: "button", onclick: drawFacts }, t("Back"))],
      send: (values, version) => deliver({ method: "PATCH", path, body: values, version, about: bike.title, draft: draftName }),
    });
    replace(facts, sheet.element);
    fields[0].focus();
  }

  /** @param {"front" | "rear"} end */
  function drawEnd(end) {
    const known = bike[end];
    const words = end === "front"
      ? t("Nothing is known of the fork yet. With its stroke, tube diameters and springs every new card can say how the bike sits.")
      : t("Nothing is known of the rear yet. With its travel, leverage and spring every new card can say how the bike sits.");
    replace(
      ends[end],
      h("h2", null, end === "front" ? t("Fork") : t("Rear")),
      known ? endFacts(end, bike) : h("p", { class: "empty" }, words),
      h("div", { class: "actions" }, h("button", { type: "button", onclick: () => editEnd(end) }, known ? t("Change") : t("Enter the data"))),
    );
  }

  /** @param {"front" | "rear"} end */
  function editEnd(end) {
    const usual = kinds.results.find((/** @type {any} */ each) => each.kind === bike.kind && each.end === end);
    const draftName = `bike.${bike.id}.${end}`;
    const data = endForm(end, bike, usual);
    const sheet = form({
      title: end === "front" ? t("Fork") : t("Rear"), fields: data.fields, layout: data.layout, submit: t("Save"), draftName,
      version: bike.version, rename: data.rename, done: saved,
      extra: [h("button", { type: "button", onclick: () => drawEnd(end) }, t("Back"))],
      send: (values, version) => deliver({
        method: "PATCH", path, body: data.body(values), version, about: `${bike.title}, ${end === "front" ? t("front") : t("rear")}`, draft: draftName,
      }),
    });
    replace(ends[end], sheet.element);
    data.fields[0].focus();
  }

  function drawChassis() {
    replace(
      chassis, h("summary", null, t("Chassis")), chassisFacts(bike),
      h("div", { class: "actions" }, h("button", { type: "button", onclick: editChassis }, bike.chassis ? t("Change") : t("Enter the data"))),
    );
  }

  function editChassis() {
    const sheet = chassisForm(bike, { path, done: saved, back: drawChassis });
    replace(chassis, h("summary", null, t("Chassis")), sheet.element);
    sheet.fields["chassis.wheelbase_mm"].focus();
  }

  function draw() {
    drawFacts();
    drawChassis();
    drawEnd("front");
    drawEnd("rear");
  }

  draw();
  root.append(
    h("div", { class: "screen-head" }, heading, h("a", { class: "button main", href: `#/new-card?bike=${bike.id}` }, t("New job card"))),
    facts,
    h("div", { class: "columns" }, ends.front, ends.rear),
    chassis,
    h("h2", null, t("Jobs")),
    historyList(history),
  );
}

/** @param {string} name @param {string} value */
function fact(name, value) {
  return h("div", null, h("dt", null, name), h("dd", null, value || h("span", { class: "soft" }, t("not known"))));
}
