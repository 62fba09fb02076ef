// @ts-check
/**
 * Opening a job card in few fields: which bike (or loose part), whose, who rides, and what is wrong. All of it is kept
 * on the device until the card is open; a retry after a lost answer opens no second one.
 *
 * @typedef {{bike: any, newBike: boolean, loose: "" | "fork" | "shock", customer: any, newCustomer: boolean, rider: any,
 *            newRider: boolean, values: Record<string, any>, keys: Record<string, {key: string, body: string}>}} Plan
 */

import { Offline, Refused, freshKey, get, post } from "../api.js";
import { h, replace } from "../dom.js";
import { during } from "../parts/busy.js";
import { choiceField, numberField, textField } from "../parts/field.js";
import { pick } from "../parts/pick.js";
import { problemList, showProblems } from "../parts/problems.js";
import { KINDS } from "../parts/kinds.js";
import { draft } from "../store.js";
import { t } from "../words.js";

const RETRY_MS = 5_000;

const PHRASES = [t("Dives under braking."), t("Bottoms out."), t("Harsh over small bumps."), t("Will not turn."), t("Wallows or runs wide."),
  t("Sits low at the rear."), t("Leaks oil."), t("Service due.")];

const LOOSE = { fork: t("Loose fork"), shock: t("Loose shock") };

/** @returns {Plan} */
const blank = () => ({
  bike: null, newBike: false, loose: "", customer: null, newCustomer: false, rider: null, newRider: false, values: {}, keys: {},
});

/** @param {HTMLElement} root @param {import("../app.js").Params} params @param {import("../app.js").App} app */
export async function open(root, params, app) {
  const kept = draft("new-card");
  const before = kept.read();
  /** @type {Plan} */
  const plan = { ...blank(), ...before };
  if (params.bike && String(plan.bike?.id) !== params.bike) await takeBike(await get(`/api/bikes/${params.bike}/`));
  else if (params.customer) plan.customer = await get(`/api/customers/${params.customer}/`);

  /** @type {Record<string, import("../parts/field.js").Field>} */
  let fields = {};
  const list = problemList();
  const bikePart = h("section", { class: "sheet" });
  const customerPart = h("section", { class: "sheet" });
  const riderPart = h("section", { class: "sheet" });
  const complaintPart = h("section", { class: "sheet" });
  const button = h("button", { type: "submit", class: "main" }, t("Open the card"));
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  let retry;
  let left = false;

  const keep = () => kept.write(plan);

  /** A field whose value is kept in the plan. @param {string} name @param {(options: any) => import("../parts/field.js").Field} make @param {any} options */
  function field(name, make, options) {
    const made = make({ ...options, name, value: plan.values[name] ?? options.value ?? null, onChange: (/** @type {any} */ value) => {
      plan.values[name] = value;
      keep();
    } });
    plan.values[name] ??= options.value ?? null;
    fields[name] = made;
    return made.element;
  }

  /** @param {any} bike */
  async function takeBike(bike) {
    Object.assign(plan, { bike, newBike: false, loose: "" });
    if (bike.owner) plan.customer = await get(`/api/customers/${bike.owner}/`).catch(() => plan.customer);
    if (plan.customer) plan.newCustomer = false;
    plan.rider = plan.customer?.riders?.length === 1 ? plan.customer.riders[0] : null;
  }

  function drawBike() {
    if (plan.bike) {
      return chosen(bikePart, t("Bike"), plan.bike.title, [plan.bike.plate, plan.bike.frame_number, plan.bike.owner_name].filter(Boolean).join(" · "),
        t("Another bike"), () => change({ bike: null }));
    }
    if (plan.loose) {
      replace(bikePart, h("h2", null, LOOSE[plan.loose]),
        field("loose_description", textField, { label: t("What is it?"), hint: t("Where it comes from and how to tell it from others."), maxlength: 200 }),
        h("div", { class: "actions" }, h("button", { type: "button", onclick: () => change({ loose: "" }) }, t("It is on a bike"))));
      return undefined;
    }
    if (plan.newBike) {
      replace(bikePart, h("h2", null, t("New bike")),
        h("div", { class: "pair" }, field("make", textField, { label: t("Make"), maxlength: 60, required: true }),
          field("model", textField, { label: t("Model"), maxlength: 60, required: true }),
          field("year", numberField, { label: t("Year"), quantity: "", decimals: 0, step: 1, start: new Date().getFullYear(), hint: t("If known.") }),
          field("plate", textField, { label: t("Plate"), maxlength: 20, hint: t("Or leave it blank.") }),
          field("frame_number", textField, { label: t("Frame number"), maxlength: 40, hint: t("Finds the bike again when the plate changes.") })),
        field("kind", choiceField, { label: t("Kind of bike"), choices: KINDS, hint: t("Sets the sag bands and unsprung masses taken as usual.") }),
        h("div", { class: "actions" }, h("button", { type: "button", onclick: () => change({ newBike: false }) }, t("Find a known bike"))));
      return undefined;
    }
    const finder = pick({
      path: "/api/bikes/", label: t("Which bike?"), hint: t("Plate, make, model, frame number or owner."),
      row: (bike) => ({ name: bike.title, more: [bike.plate, bike.owner_name].filter(Boolean).join(" · ") }),
      take: async (bike) => {
        await takeBike(bike);
        change({});
      },
      nothing: (search) => t("No bike of this business matches “{search}”.", { search }),
    });
    replace(bikePart, h("h2", null, t("Bike")), finder,
      h("div", { class: "actions" },
        h("button", { type: "button", onclick: () => change({ loose: "fork" }) }, LOOSE.fork),
        h("button", { type: "button", onclick: () => change({ loose: "shock" }) }, LOOSE.shock),
        h("button", { type: "button", onclick: () => change({ newBike: true }) }, t("New bike"))));
    return undefined;
  }

  function drawCustomer() {
    const customer = plan.customer;
    if (customer) {
      const owns = plan.bike?.owner === customer.id ? t("owner of this bike") : "";
      return chosen(customerPart, t("Customer"), customer.name, [owns, customer.phone].filter(Boolean).join(" · "), t("Somebody else"),
        () => change({ customer: null, rider: null, newRider: false }));
    }
    if (plan.newCustomer) {
      replace(customerPart, h("h2", null, t("New customer")),
        field("customer_name", textField, { label: t("Name"), maxlength: 120, required: true }),
        h("div", { class: "pair" }, field("phone", textField, { label: t("Phone"), type: "tel", maxlength: 40, hint: t("Or leave it blank.") }),
          field("email", textField, { label: t("E-mail"), type: "email", hint: t("Or leave it blank.") })),
        h("div", { class: "actions" }, h("button", { type: "button", onclick: () => change({ newCustomer: false }) }, t("Find a known customer"))));
      return undefined;
    }
    replace(customerPart, h("h2", null, t("Customer")), pick({
      path: "/api/customers/", label: t("Whose job is it?"), hint: t("Name, phone or e-mail."),
      row: (found) => ({ name: found.name, more: found.phone }),
      take: (found) => change({ customer: found, rider: found.riders.length === 1 ? found.riders[0] : null }),
      nothing: (search) => t("No customer matches “{search}”.", { search }),
    }), h("div", { class: "actions" }, h("button", { type: "button", onclick: () => change({ newCustomer: true }) }, t("New customer"))));
    return undefined;
  }

  function drawRider() {
    const known = plan.customer?.riders ?? [];
    const adding = plan.newRider || (!known.length && plan.values.mass_in_kit_kg !== null && plan.values.mass_in_kit_kg !== undefined);
    const choices = [
      ...known.map((/** @type {any} */ rider) => ({ value: rider.id, text: rider.name })),
      { value: "new", text: known.length ? t("Another rider") : t("Enter the rider") }, { value: null, text: t("Not known yet") },
    ];
    const who = choiceField({
      name: "rider", label: t("Who rides it?"), choices, value: adding ? "new" : plan.rider?.id ?? null,
      hint: t("The springs are chosen for this person in full kit."),
      onChange: (value) => change({ newRider: value === "new", rider: known.find((/** @type {any} */ rider) => rider.id === value) ?? null }, "rider"),
    });
    fields.rider = who;
    replace(riderPart, h("h2", null, t("Rider")), who.element, adding ? h("div", { class: "pair" },
      field("rider_name", textField, { label: t("Rider’s name"), maxlength: 120, hint: t("Blank: the customer rides.") }),
      field("mass_in_kit_kg", numberField, {
        label: t("Mass in kit"), quantity: "mass", band: "person.mass_kg", start: 80, hint: t("With helmet, boots, protectors; weigh it if you can."),
      })) : null);
  }

  function drawComplaint() {
    const element = field("complaint", textField, { label: t("What is wrong?"), lines: 3, hint: t("In the rider’s own words.") });
    const add = (/** @type {string} */ phrase) => {
      const next = [plan.values.complaint?.trim(), phrase].filter(Boolean).join(" ");
      fields.complaint.set(next);
      plan.values.complaint = next;
      keep();
    };
    replace(complaintPart, h("h2", null, t("Complaint")), element,
      h("div", { class: "choices", role: "group", "aria-label": t("Add to the complaint") },
        ...PHRASES.map((phrase) => h("button", { type: "button", onclick: () => add(phrase) }, phrase))));
  }

  /** @param {Partial<Plan>} next @param {string} [from] what was touched, where the focus stays */
  function change(next, from) {
    Object.assign(plan, next);
    keep();
    draw();
    if (from) fields[from]?.focus();
    else /** @type {HTMLElement | null} */ (root.querySelector("section:not(:has(.chosen)) input"))?.focus();
  }

  function draw() {
    fields = {};
    drawBike();
    drawCustomer();
    drawRider();
    drawComplaint();
  }

  /** POST once, however often it takes: the same body goes out with the same key. @param {string} step @param {string} path @param {any} body */
  async function once(step, path, body) {
    const text = JSON.stringify(body);
    if (plan.keys[step]?.body !== text) plan.keys[step] = { key: freshKey(), body: text };
    keep();
    return post(path, body, { key: plan.keys[step].key });
  }

  async function send() {
    const { values } = plan;
    const customer = plan.customer ?? (plan.newCustomer ? await once("customer", "/api/customers/", {
      name: values.customer_name ?? "", phone: values.phone ?? "", email: values.email ?? "",
    }) : null);
    const bike = plan.bike ?? (plan.newBike ? await once("bike", "/api/bikes/", {
      owner: customer?.id ?? null, make: values.make ?? "", model: values.model ?? "", year: values.year, kind: values.kind,
      plate: values.plate ?? "", frame_number: values.frame_number ?? "",
    }) : null);
    const adds = plan.newRider && customer && (values.rider_name || values.mass_in_kit_kg !== null);
    const rider = adds ? await once("rider", "/api/riders/", {
      customer: customer.id, name: values.rider_name || customer.name, mass_in_kit_kg: values.mass_in_kit_kg ?? null,
    }) : plan.rider;
    return once("card", "/api/cards/", {
      bike: bike?.id ?? null, customer: customer?.id ?? null, rider: rider?.id ?? null, complaint: values.complaint ?? "",
      loose: plan.loose, loose_description: plan.loose ? values.loose_description ?? "" : "",
    });
  }

  /** What is missing, before anything is sent: the server would refuse it half way. @returns {import("../api.js").Problem[]} */
  function missing() {
    /** @type {import("../api.js").Problem[]} */
    const found = [];
    const say = (/** @type {string} */ name, /** @type {string} */ text) => found.push({ field: name, code: "missing", text });
    if (!plan.bike && !plan.loose && !plan.newBike) say("bike", t("Choose the bike, add a new one, or say that a loose fork or shock came in."));
    if (plan.newBike && !plan.values.make?.trim()) say("make", t("Give the make: it is how the bike is found again."));
    if (plan.newBike && !plan.values.model?.trim()) say("model", t("Give the model."));
    if (plan.newBike && !plan.values.kind) say("kind", t("Choose the kind of bike: it sets the usual sag."));
    if (plan.loose && !plan.values.loose_description?.trim()) say("loose_description", t("Say what it is, so that it is not mixed up."));
    if (!plan.customer && !plan.newCustomer) say("customer", t("Say whose job this is: find the customer or add a new one."));
    if (plan.newCustomer && !plan.customer && !plan.values.customer_name?.trim()) say("customer_name", t("Give the customer’s name."));
    return found;
  }

  async function go() {
    clearTimeout(retry);
    const unclear = Object.values(fields).find((each) => each.unclear());
    if (unclear) {
      unclear.focus();
      return;
    }
    if (showProblems(missing(), fields, list)) return;
    try {
      const card = await send();
      kept.drop();
      app.say(t("Sent"));
      app.go(`#/cards/${card.id}`);
    } catch (error) {
      if (error instanceof Offline) {
        app.say(t("Kept on this tablet — no connection"));
        if (!left) retry = setTimeout(() => during(button, go, t("Waiting for the network…")), RETRY_MS);
      } else if (error instanceof Refused) {
        showProblems(error.problems.map(renamed), fields, list);
      } else {
        throw error;
      }
    }
  }

  /** @param {import("../api.js").Problem} problem */
  const renamed = (problem) => (problem.field === "name" ? { ...problem, field: plan.newCustomer && !plan.customer ? "customer_name" : "rider_name" } : problem);

  draw();
  root.append(
    h("div", { class: "screen-head" }, h("h1", null, t("New job card")),
      h("button", { type: "button", onclick: () => {
        Object.assign(plan, blank());
        kept.drop();
        draw();
      } }, t("Start afresh"))),
    h("form", {
      "aria-label": t("New job card"), novalidate: true,
      onsubmit: (/** @type {Event} */ event) => {
        event.preventDefault();
        during(button, go, t("Opening…"));
      },
    }, before ? h("div", { class: "restored" }, h("p", null, t("This is what you typed before; the card is not open yet."))) : null,
    h("div", { class: "columns" }, h("div", null, bikePart, customerPart), h("div", null, riderPart, complaintPart)), list,
    h("div", { class: "actions" }, button)),
  );
  return { close: () => {
    left = true;
    clearTimeout(retry);
  } };
}

/** @param {HTMLElement} part @param {string} what @param {string} name @param {string} more @param {string} words @param {() => void} again */
function chosen(part, what, name, more, words, again) {
  replace(part, h("div", { class: "chosen" }, h("div", null, h("h2", { class: "soft small" }, what), h("p", { class: "row-name" }, name), h("p", { class: "soft" }, more)),
    h("button", { type: "button", onclick: again }, words)));
}
