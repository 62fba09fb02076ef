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
import { t, tn, written } from "../words.js";

const ENDS = [{ value: "front", text: t("fork") }, { value: "rear", text: t("shock") }];

const SIZES = [
  { name: "outer_diameter_mm", label: t("Outer diameter"), quantity: "length" },
  { name: "inner_diameter_mm", label: t("Inner diameter"), quantity: "length" },
  { name: "free_length_mm", label: t("Free length"), quantity: "length" },
  { name: "wire_mm", label: t("Wire"), quantity: "length", step: 0.1 },
  { name: "displaced_cm3", label: t("Volume of its steel"), quantity: "volume", hint: t("Displaces the oil; corrects the air gap.") },
  { name: "mass_g", label: t("Mass"), quantity: "g", step: 10 },
];

/** @param {HTMLElement} root @param {import("../app.js").Params} _params @param {import("../app.js").App} app */
export async function open(root, _params, app) {
  const panel = h("div");
  const end = choiceField({ name: "end", label: t("For"), list: true, choices: [{ value: "", text: t("fork and shock") }, ...ENDS], value: "", onChange: () => list.again() });
  const list = listing({
    path: "/api/springs/",
    label: t("Find a spring"),
    hint: t("Code, label or batch."),
    filters: [end],
    row,
    named: (count) => tn(count, "1 spring, softest first", "{n} springs, softest first"),
    empty: [h("p", null, t("No spring on the list yet. A card chooses springs from this list, so that what it proposes can really be had."), " ",
      (app.manages ? t("Enter what lies on the shelf, with the stamped rate.") : t("A manager of this shop enters what lies on the shelf.")))],
    nothing: (search) => (search ? t("No spring matches “{search}”.", { search }) : t("No spring for this end.")),
  });

  /** @param {any} spring */
  function row(spring) {
    const sizes = [
      spring.outer_diameter_mm && ["Ø ", measure(spring.outer_diameter_mm, "length", { fixed: true })],
      spring.free_length_mm && [`${t("length")} `, measure(spring.free_length_mm, "length", { fixed: true })],
      spring.batch && [t("batch {batch}", { batch: spring.batch })],
    ].filter(Boolean);
    const parts = [
      h("span", { class: "row-key" }, springText(spring.spring, { fixed: true })),
      h("span", { class: "row-name" }, spring.code, " ", h("span", { class: "soft small" }, spring.label)),
      h("span", { class: "row-side digits" }, spring.stock ? t("{n} on the shelf", { n: spring.stock }) : t("none on the shelf")),
      h("span", { class: "row-more" }, spring.end === "front" ? t("fork") : t("shock"), ...sizes.flatMap((each) => [" · ", ...each])),
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
    const where = choiceField({ name: "end", label: t("For"), choices: ENDS, value: spring?.end ?? (end.value || "front"), onChange: () => drawCurve() });
    const curve = h("div");
    /** @type {Record<string, ReturnType<typeof springFields>>} */
    const curves = {
      front: springFields({ name: "fork", path: "spring", place: "leg_spring", value: spring?.end === "front" ? spring.spring : { kind: "straight" } }),
      rear: springFields({ name: "shock", path: "spring", place: "shock_spring", value: spring?.end === "rear" ? spring.spring : { kind: "straight" } }),
    };
    const drawCurve = () => replace(curve, curves[where.value].element);
    drawCurve();
    const fields = [
      textField({ name: "code", label: t("Code"), value: spring?.code, required: true, maxlength: 40, hint: t("As you order it.") }),
      textField({ name: "label", label: t("Label"), value: spring?.label, required: true, maxlength: 120, hint: t("As it is stamped or painted.") }),
      textField({ name: "batch", label: t("Batch"), value: spring?.batch, maxlength: 40, hint: t("Printed in the record; springs of a bad batch can be found.") }),
      textField({ name: "material", label: t("Material"), value: spring?.material, maxlength: 40 }),
      ...SIZES.map((each) => numberField({ ...each, value: spring?.[each.name] ?? null })),
      numberField({ name: "stock", label: t("On the shelf"), quantity: "", decimals: 0, value: spring?.stock ?? 0, hint: t("Single springs, not pairs.") }),
    ];
    const draftName = `spring.${spring?.id ?? "new"}`;
    const path = spring ? `/api/springs/${spring.id}/` : "/api/springs/";
    const sheet = form({
      title: spring ? `${spring.code} ${spring.label}` : t("New spring"),
      fields: [...(spring ? [] : [where]), ...fields, ...curves.front.fields, ...curves.rear.fields],
      layout: [spring ? null : where.element, h("div", { class: "pair" }, ...fields.slice(0, 2).map((each) => each.element)), curve,
        h("div", { class: "pair" }, ...fields.slice(2).map((each) => each.element))],
      submit: spring ? t("Save") : t("Put it on the list"), draftName, version: spring?.version ?? null,
      rename: (field) => curves[where.value].rename(field),
      extra: [spring ? h("button", { type: "button", onclick: () => takeOff(spring) }, t("Take it off the list")) : null,
        h("button", { type: "button", onclick: close }, t("Back"))].filter((each) => each !== null),
      send: (values, version) => {
        const body = {
          ...nested(Object.fromEntries(fields.map((field) => [field.name, values[field.name]]))),
          spring: curves[where.value].spring() ?? { kind: "straight" },
        };
        return spring
          ? deliver({ method: "PATCH", path, body, version, about: spring.code, draft: draftName })
          : deliver({ method: "POST", path, body: { ...body, end: where.value, shop: app.person.shop.id }, about: t("spring {code}", { code: body.code }), draft: draftName });
      },
      done: (saved) => {
        app.say(t("{code} saved", { code: saved.code }));
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
      h("div", { class: "actions" }, h("button", { type: "button", onclick: close }, t("Back")))), testPart(spring));
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
      title: t("Spring tester"), fields: [field], submit: t("Keep the test"), draftName,
      extra: spring.tested && app.manages ? [h("button", { type: "button", onclick: () => forget(spring) }, t("Forget the test"))] : [],
      send: ({ tested }) => deliver({
        method: "POST", path: `/api/springs/${spring.id}/test/`, about: t("test of {code}", { code: spring.code }), draft: draftName,
        body: { deflection_mm: tested?.deflection_mm ?? [], force_n: tested?.force_n ?? [] },
      }),
      rename: () => "tested",
      done: (saved) => {
        app.say(t("{code}: cards reckon with it as tested", { code: saved.code }));
        close();
        list.again();
      },
    });
    return h("section", { class: "sheet" }, sheet.element);
  }

  /** @param {any} spring */
  async function forget(spring) {
    await deliver({ method: "PATCH", path: `/api/springs/${spring.id}/`, body: { tested: null }, version: spring.version, about: t("{code}, by its stamp again", { code: spring.code }) });
    app.say(t("{code}: by its stamp again", { code: spring.code }));
    close();
    list.again();
  }

  /** @param {any} spring */
  async function takeOff(spring) {
    const sure = await ask({
      title: t("Take {code} off the list?", { code: spring.code }),
      body: [h("p", null, t("Cards that used it keep its data. To say that none is left, set “On the shelf” to 0 instead."))],
      choices: [{ text: t("Take it off"), value: true }, { text: t("Keep it"), value: false, main: true }],
    });
    if (!sure) return;
    try {
      await deliver({ method: "DELETE", path: `/api/springs/${spring.id}/`, version: spring.version, about: t("{code} off the list", { code: spring.code }) });
      app.say(t("{code} is off the list", { code: spring.code }));
      close();
      list.again();
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      app.say(error.message);
    }
  }

  root.append(
    h("div", { class: "screen-head" }, h("h1", null, t("Springs")),
      app.manages ? h("button", { type: "button", class: "main", onclick: () => edit(null) }, t("New spring")) : null),
    panel,
    list.element,
  );
  await list.again();
}

/** What the tester said of a line, in few words. @param {any} test */
function testedWords(test) {
  const percent = test.stamp_difference_percent;
  const values = { percent: written(Math.abs(percent ?? 0).toFixed(1)) };
  const apart = percent < 0 ? t("{percent} % below the stamp", values) : t("{percent} % above the stamp", values);
  const off = percent === null ? "" : `, ${apart}${test.stamp_within_usual ? "" : ` (${t("more than the usual 5 %")})`}`;
  return h("span", { class: test.stamp_within_usual === false ? "problem" : null }, t("tested"), " ", measure(test.rate_n_per_mm, "rate", { fixed: true }), off);
}
