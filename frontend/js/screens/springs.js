// @ts-check
/** The shop's spring list: what is on the shelf, from which the card chooses. */

import { Refused } from "../api.js";
import { h, replace } from "../dom.js";
import { ask } from "../parts/dialog.js";
import { choiceField, numberField, textField } from "../parts/field.js";
import { form } from "../parts/form.js";
import { listing } from "../parts/listing.js";
import { measure } from "../parts/measure.js";
import { nested } from "../parts/nest.js";
import { deliver } from "../parts/outbox.js";
import { testedField } from "../parts/curve-fields.js";
import { springFields, springText } from "../parts/spring-fields.js";

const ENDS = [{ value: "front", text: "fork" }, { value: "rear", text: "shock" }];

const SIZES = [
  { name: "outer_diameter_mm", label: "Outer diameter", quantity: "length" },
  { name: "inner_diameter_mm", label: "Inner diameter", quantity: "length" },
  { name: "free_length_mm", label: "Free length", quantity: "length" },
  { name: "wire_mm", label: "Wire", quantity: "length", step: 0.1 },
  { name: "displaced_cm3", label: "Volume of its steel", quantity: "volume", hint: "Displaces the oil; corrects the air gap." },
  { name: "mass_g", label: "Mass", quantity: "g", step: 10 },
];

/** @param {HTMLElement} root @param {import("../app.js").Params} _params @param {import("../app.js").App} app */
export async function open(root, _params, app) {
  const panel = h("div");
  const end = choiceField({ name: "end", label: "For", list: true, choices: [{ value: "", text: "fork and shock" }, ...ENDS], value: "", onChange: () => list.again() });
  const list = listing({
    path: "/api/springs/",
    label: "Find a spring",
    hint: "Code, label or batch.",
    filters: [end],
    row,
    named: (count) => (count === 1 ? "1 spring, softest first" : `${count} springs, softest first`),
    empty: [h("p", null, "No spring on the list yet. A card chooses springs from this list, so that what it proposes can really be had. "
      + (app.manages ? "Enter what lies on the shelf, with the stamped rate." : "A manager of this shop enters what lies on the shelf."))],
    nothing: (search) => (search ? `No spring matches “${search}”.` : "No spring for this end."),
  });

  /** @param {any} spring */
  function row(spring) {
    const sizes = [
      spring.outer_diameter_mm && ["Ø ", measure(spring.outer_diameter_mm, "length", { fixed: true })],
      spring.free_length_mm && ["length ", measure(spring.free_length_mm, "length", { fixed: true })],
      spring.batch && [`batch ${spring.batch}`],
    ].filter(Boolean);
    const parts = [
      h("span", { class: "row-key" }, springText(spring.spring, { fixed: true })),
      h("span", { class: "row-name" }, spring.code, " ", h("span", { class: "soft small" }, spring.label)),
      h("span", { class: "row-side digits" }, spring.stock ? `${spring.stock} on the shelf` : "none on the shelf"),
      h("span", { class: "row-more" }, spring.end === "front" ? "fork" : "shock", ...sizes.flatMap((each) => [" · ", ...each])),
      spring.test ? h("span", { class: "row-more" }, testedWords(spring.test)) : null,
    ];
    // Whoever stands at the tester may keep its readings; the rest of the line is a manager's.
    return h("li", null, h("button", { type: "button", class: "row", onclick: () => (app.manages ? edit(spring) : show(spring)) }, ...parts));
  }

  function close() {
    replace(panel);
  }

  /** @param {any} spring null for a new one */
  function edit(spring) {
    const where = choiceField({ name: "end", label: "For", choices: ENDS, value: spring?.end ?? (end.value || "front"), onChange: () => drawCurve() });
    const curve = h("div");
    /** @type {Record<string, ReturnType<typeof springFields>>} */
    const curves = {
      front: springFields({ name: "fork", path: "spring", place: "leg_spring", value: spring?.end === "front" ? spring.spring : { kind: "straight" } }),
      rear: springFields({ name: "shock", path: "spring", place: "shock_spring", value: spring?.end === "rear" ? spring.spring : { kind: "straight" } }),
    };
    const drawCurve = () => replace(curve, curves[where.value].element);
    drawCurve();
    const fields = [
      textField({ name: "code", label: "Code", value: spring?.code, required: true, maxlength: 40, hint: "As you order it." }),
      textField({ name: "label", label: "Label", value: spring?.label, required: true, maxlength: 120, hint: "As it is stamped or painted." }),
      textField({ name: "batch", label: "Batch", value: spring?.batch, maxlength: 40, hint: "Printed in the record; springs of a bad batch can be found." }),
      textField({ name: "material", label: "Material", value: spring?.material, maxlength: 40 }),
      ...SIZES.map((each) => numberField({ ...each, value: spring?.[each.name] ?? null })),
      numberField({ name: "stock", label: "On the shelf", quantity: "", decimals: 0, value: spring?.stock ?? 0, hint: "Single springs, not pairs." }),
    ];
    const draftName = `spring.${spring?.id ?? "new"}`;
    const path = spring ? `/api/springs/${spring.id}/` : "/api/springs/";
    const sheet = form({
      title: spring ? `${spring.code} ${spring.label}` : "New spring",
      fields: [...(spring ? [] : [where]), ...fields, ...curves.front.fields, ...curves.rear.fields],
      layout: [spring ? null : where.element, h("div", { class: "pair" }, ...fields.slice(0, 2).map((each) => each.element)), curve,
        h("div", { class: "pair" }, ...fields.slice(2).map((each) => each.element))],
      submit: spring ? "Save" : "Put it on the list", draftName, version: spring?.version ?? null,
      rename: (field) => curves[where.value].rename(field),
      extra: [spring ? h("button", { type: "button", onclick: () => takeOff(spring) }, "Take it off the list") : null,
        h("button", { type: "button", onclick: close }, "Back")].filter((each) => each !== null),
      send: (values, version) => {
        const body = {
          ...nested(Object.fromEntries(fields.map((field) => [field.name, values[field.name]]))),
          spring: curves[where.value].spring() ?? { kind: "straight" },
        };
        return spring
          ? deliver({ method: "PATCH", path, body, version, about: spring.code, draft: draftName })
          : deliver({ method: "POST", path, body: { ...body, end: where.value, shop: app.person.shop.id }, about: `spring ${body.code}`, draft: draftName });
      },
      done: (saved) => {
        app.say(`${saved.code} saved`);
        close();
        list.again();
      },
    });
    replace(panel, h("section", { class: "sheet" }, sheet.element), spring ? testPart(spring) : null);
    panel.scrollIntoView({ block: "start" });
    fields[0].focus();
  }

  /** The line for those who may only test it. @param {any} spring */
  function show(spring) {
    replace(panel, h("section", { class: "sheet" }, h("h2", { tabindex: "-1" }, `${spring.code} ${spring.label}`), h("p", null, springText(spring.spring)),
      h("div", { class: "actions" }, h("button", { type: "button", onclick: close }, "Back"))), testPart(spring));
    panel.scrollIntoView({ block: "start" });
    panel.querySelector("h2")?.focus();
  }

  /** The spring tester: readings of one spring of the line, kept beside its stamp. @param {any} spring */
  function testPart(spring) {
    if (spring.shop !== app.person.shop.id) return null;
    const field = testedField({
      name: "tested", place: spring.end === "front" ? "leg_spring" : "shock_spring", value: spring.tested, stamp: spring.spring.rate_n_per_mm ?? null,
    });
    const draftName = `spring.${spring.id}.test`;
    const sheet = form({
      title: "Spring tester", fields: [field], submit: "Keep the test", draftName,
      extra: spring.tested && app.manages ? [h("button", { type: "button", onclick: () => forget(spring) }, "Forget the test")] : [],
      send: ({ tested }) => deliver({
        method: "POST", path: `/api/springs/${spring.id}/test/`, about: `test of ${spring.code}`, draft: draftName,
        body: { deflection_mm: tested?.deflection_mm ?? [], force_n: tested?.force_n ?? [] },
      }),
      rename: () => "tested",
      done: (saved) => {
        app.say(`${saved.code}: cards reckon with it as tested`);
        close();
        list.again();
      },
    });
    return h("section", { class: "sheet" }, sheet.element);
  }

  /** @param {any} spring */
  async function forget(spring) {
    await deliver({ method: "PATCH", path: `/api/springs/${spring.id}/`, body: { tested: null }, version: spring.version, about: `${spring.code}, by its stamp again` });
    app.say(`${spring.code}: by its stamp again`);
    close();
    list.again();
  }

  /** @param {any} spring */
  async function takeOff(spring) {
    const sure = await ask({
      title: `Take ${spring.code} off the list?`,
      body: [h("p", null, "Cards that used it keep its data. To say that none is left, set “On the shelf” to 0 instead.")],
      choices: [{ text: "Take it off", value: true }, { text: "Keep it", value: false, main: true }],
    });
    if (!sure) return;
    try {
      await deliver({ method: "DELETE", path: `/api/springs/${spring.id}/`, version: spring.version, about: `${spring.code} off the list` });
      app.say(`${spring.code} is off the list`);
      close();
      list.again();
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      app.say(error.message);
    }
  }

  root.append(
    h("div", { class: "screen-head" }, h("h1", null, "Springs"),
      app.manages ? h("button", { type: "button", class: "main", onclick: () => edit(null) }, "New spring") : null),
    panel,
    list.element,
  );
  await list.again();
}

/** What the tester said of a line, in few words. @param {any} test */
function testedWords(test) {
  const percent = test.stamp_difference_percent;
  const off = percent === null ? "" : `, ${Math.abs(percent).toFixed(1)} % ${percent < 0 ? "below" : "above"} the stamp${test.stamp_within_usual ? "" : " (more than the usual 5 %)"}`;
  return h("span", { class: test.stamp_within_usual === false ? "problem" : null }, "tested ", measure(test.rate_n_per_mm, "rate", { fixed: true }), off);
}
