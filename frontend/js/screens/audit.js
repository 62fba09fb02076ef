// @ts-check
/** The audit: what is missing, late, amended or recalled across the business, its changes in words, and the chain's check. */

import { Offline, Refused, get, post } from "../api.js";
import { h, replace } from "../dom.js";
import { during } from "../parts/busy.js";
import { moment } from "../parts/dates.js";
import { download, save } from "../parts/download.js";
import { choiceField, numberField, textField } from "../parts/field.js";
import { listing } from "../parts/listing.js";
import { longWork } from "../parts/long-work.js";
import { unitsOf, withUnit } from "../units.js";
import { t, tn, written } from "../words.js";

const DAY_MS = 86_400_000;
const RECENT_DAYS = 90;
const PAUSE_MS = 250;

/**
 * @typedef {{name: string, does: string, empty: string, nothing?: string, filters?: ("days" | "batch" | "who" | "kind")[], recent?: boolean}} List
 *   `recent`: begins with the last ninety days; `nothing`: said where what was typed finds none
 */

/** @type {Record<string, List>} */
const LISTS = {
  unchecked: { name: t("Second checks"), does: t("Fasteners that need a second person’s check, are tightened, and have none."), recent: true,
    empty: t("Every fastener that needs a second check has one. One that does not would be listed here, with its card.") },
  unsourced: { name: t("Torque sources"), does: t("Torque values without the edition or the page of the bike’s own manual."), recent: true,
    empty: t("Every torque names its manual and page. One that does not would be listed here: nobody could look it up again.") },
  uncalibrated: { name: t("Calibration"), does: t("Fasteners tightened with a wrench that was not in calibration on that day."), recent: true,
    empty: t("Every wrench was in calibration when it was used. Work done with one that was not would be listed here.") },
  tools: { name: t("Tools"), does: t("The tools in use, the first due on top, with a wrench’s cycles since it was calibrated."),
    empty: t("No tool in use is entered yet. Tools are kept under Business: the record names the wrench and its calibration.") },
  late: { name: t("Late cards"), does: t("Cards open for long and not sealed, the oldest first."), filters: ["days"],
    empty: t("No card has been open for so long. One that is would be listed here with the step it stands at.") },
  overridden: { name: t("Overrides"), does: t("What a manager let pass although it stood in the way of sealing, with the written reason."), recent: true,
    empty: t("Nothing was overridden. What is would be listed here with who answers for it and why.") },
  records: { name: t("Sealed records"), does: t("The cards sealed in these days, each with its number in the shop’s chain."), recent: true,
    empty: t("No card was sealed in these days. Once one is, it is listed here, and its PDF can be saved with the others.") },
  amended: { name: t("Amendments"), does: t("What was corrected in sealed records: old value, new value, who, when and why."), recent: true,
    empty: t("No sealed record was amended. A correction would stand here beside what it corrects.") },
  recalled: { name: t("Batches"), does: t("Every bike that springs, oil or parts of a batch went into."), filters: ["batch"],
    empty: t("Type a batch: every bike that it went into is listed here, with whom to call."), nothing: t("No bike got anything of this batch.") },
  sags: { name: t("Sag"), does: t("Measured sags less computed ones, by shop and model, from the sealed cards. A plus: the bike sat lower than computed."),
    empty: t("No card with a measured sag is sealed yet. Once one is, this says how far the sums are off for each model.") },
  trail: { name: t("Changes"), does: t("Who changed what, when, from where, and from which value to which."), filters: ["who", "kind"], recent: true,
    empty: t("Nothing was done in these days. Every change is listed here.") },
};
const CHAIN = "chain";

/** @type {[string, string][]} */
const KINDS = [["", t("everything")], ["jobcard", t("job cards")], ["torqueline", t("torque lines")], ["partline", t("parts")], ["bike", t("bikes")],
  ["customer", t("customers")], ["rider", t("riders")], ["kindofbike", t("usual sag")], ["shop", t("shops")], ["person", t("people")], ["tool", t("tools")],
  ["stockspring", t("springs on the list")], ["customerlink", t("customers’ links")], ["estimate", t("estimates")], ["tablet", t("tablets")], ["invitation", t("invitations")]];

/** @param {HTMLElement} root @param {import("../app.js").Params} params @param {import("../app.js").App} app */
export async function open(root, params, app) {
  if (!app.manages) {
    root.append(h("h1", null, t("Audit")), h("p", { class: "empty" }, t("The audit is a manager’s. Bikes’ histories and records are open to everybody.")));
    return;
  }
  const here = params.about === CHAIN || LISTS[params.about] ? params.about : "unchecked";
  const names = [...Object.entries(LISTS).map(([key, { name }]) => [key, name]), [CHAIN, t("Chain of records")]];
  const body = h("section", { class: "audit" });
  const strip = h("nav", { class: "parts audit-lists", "aria-label": t("lists of the audit") }, ...names.map(([key, name]) => h("a", {
    class: "button", href: `#/audit?about=${key}`, "aria-current": key === here ? "page" : null,
  }, name)));
  // On a phone the same lists are one field: as buttons they would fill half of it.
  const pick = choiceField({ name: "about", label: t("List"), list: true, value: here, choices: names.map(([value, text]) => ({ value, text })),
    onChange: (key) => { location.hash = `#/audit?about=${key}`; } });
  pick.element.classList.add("audit-pick");
  root.append(h("div", { class: "screen-head" }, h("h1", null, t("Audit"))), strip, pick.element, body);
  const shops = (await get("/api/shops/")).results;
  await (here === CHAIN ? chain(body, shops) : list(body, here, shops, app));
}

/** @param {HTMLElement} body @param {string} about @param {any[]} shops @param {import("../app.js").App} app */
async function list(body, about, shops, app) {
  const { name, does, empty, nothing = empty, filters = [], recent = false } = LISTS[about];
  const path = `/api/audit/${about}/`;
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  let pause;
  const again = () => {
    clearTimeout(pause);
    pause = setTimeout(() => found.again(), PAUSE_MS);
  };
  const since = recent ? new Date(Date.now() - RECENT_DAYS * DAY_MS).toISOString().slice(0, 10) : "";
  const makers = {
    days: () => numberField({ name: "days", label: t("Open longer than"), quantity: t("days"), value: 14, step: 1, decimals: 0, onChange: again }),
    batch: () => textField({ name: "batch", label: t("Batch"), maxlength: 40, hint: t("As on the spring, the can or the bag."), onChange: again }),
    who: () => people,
    kind: () => choiceField({ name: "kind", label: t("Changes of"), list: true, value: "", choices: KINDS.map(([value, text]) => ({ value, text })), onChange: again }),
  };
  const people = filters.includes("who") ? await personField(again) : null;
  const fields = [
    ...filters.map((each) => makers[each]()),
    choiceField({ name: "shop", label: t("Shop"), list: true, value: "", onChange: again,
      choices: [{ value: "", text: t("all shops") }, ...shops.map((shop) => ({ value: shop.id, text: shop.name }))] }),
    textField({ name: "since", label: t("From"), type: "date", value: since, onChange: again }),
    textField({ name: "until", label: t("To"), type: "date", onChange: again }),
  ].filter((field) => field !== null);
  const found = listing({
    path, label: "", searched: false, filters: fields, row, empty: [h("p", null, empty)],
    nothing: () => (query(fields).has("batch") ? nothing : empty),
    named: (count) => tn(count, "{n} line", "{n} lines"),
  });
  const csv = h("button", { type: "button", id: "save-csv", onclick: () => during(csv, () => giveOut(path, about, fields, app)) }, t("Save as CSV"));
  const work = h("div");
  const pdfs = h("button", { type: "button", onclick: () => during(pdfs, () => givePdfsOut(work, query(fields), app)) }, t("Save the PDFs"));
  replace(body, h("h2", null, name), h("p", { class: "soft" }, does), found.element, work,
    h("div", { class: "actions" }, csv, about === "records" ? pdfs : null));
  await found.again();
}

/** @param {() => void} again */
async function personField(again) {
  const people = (await get("/api/people/")).results;
  return choiceField({ name: "who", label: t("Person"), list: true, value: "", onChange: again,
    choices: [{ value: "", text: t("everybody") }, ...people.map((/** @type {any} */ one) => ({ value: one.id, text: one.name }))] });
}

/** @param {import("../parts/field.js").Field[]} fields */
function query(fields) {
  const found = new URLSearchParams();
  for (const field of fields) if (field.value || field.value === 0) found.set(field.name, String(field.value).trim());
  return found;
}

/**
 * The whole list as a file, as it is narrowed on the screen.
 * @param {string} path @param {string} about @param {import("../parts/field.js").Field[]} fields @param {import("../app.js").App} app
 */
async function giveOut(path, about, fields, app) {
  try {
    const text = await post(`${path}file/?${query(fields)}`);
    // The mark tells a spreadsheet program that the text is UTF-8; reading the answer took it off.
    save(new Blob([`\ufeff${text}`], { type: "text/csv;charset=utf-8" }), `audit-${about}.csv`);
    app.say(t("Saved; the list of changes says who took it."));
  } catch (error) {
    noFile(error, app);
  }
}

/** @param {unknown} error @param {import("../app.js").App} app */
function noFile(error, app) {
  if (error instanceof Offline) app.say(t("No connection: the file cannot be made now."));
  else if (error instanceof Refused) app.say(error.message);
  else throw error;
}

/**
 * The PDFs of every record listed, in one file. Those that nobody asked for before are made first, a few at a time:
 * that is the long part, and it can be called off between two of them.
 * @param {HTMLElement} work @param {URLSearchParams} which @param {import("../app.js").App} app
 */
async function givePdfsOut(work, which, app) {
  try {
    const done = await longWork(work, t("Making the PDFs…"), async (signal, so) => {
      for (let made = 0, whole = 1; made < whole; so(made / whole)) {
        ({ made, whole } = await get(`/api/audit/pdfs/?${which}&done=${made}`));
        signal.throwIfAborted();
      }
      return download(`/api/audit/pdfs/?${which}`, "application/zip", signal, so);
    });
    app.say(done ? t("Saved; the list of changes says who took it.") : t("Called off; no file was made."));
  } catch (error) {
    noFile(error, app);
  }
}

/** @param {any} one */
function row(one) {
  const name = one.card_number ? `${one.card_number} ${one.bike}` : one.bike || one.text;
  const parts = [
    h("span", { class: "row-key digits" }, one.at ? moment(one.at) : one.figures?.end ?? one.who),
    h("span", { class: "row-name" }, name),
    h("span", { class: "row-side" }, one.shop_name),
    h("span", { class: "row-more" }, ...said(one, name)),
  ];
  return h("li", null, one.card ? h("a", { href: `#/cards/${one.card}` }, ...parts) : h("div", { class: "row" }, ...parts));
}

/** @param {any} one @param {string} name */
function said(one, name) {
  const who = one.at ? [one.who, one.address].filter(Boolean).join(", ") : "";
  const lines = [one.text === name ? "" : one.text, one.figures ? figures(one.figures) : "", one.why, who].filter(Boolean);
  return [
    lines.join(" · "),
    one.changes.length ? h("span", { class: "changes" }, ...one.changes.map((/** @type {any} */ change) =>
      h("span", null, `${change.label}: ${value(change.old, change.quantity)} → ${value(change.new, change.quantity)}`))) : null,
  ];
}

/** @param {any} found */
function figures(found) {
  const rest = found.spread_mm === null ? t("one card has no spread")
    : t("spread {spread}, mean good to ± {mean} (95 %)", { spread: withUnit(found.spread_mm, "length"), mean: withUnit(found.expanded_mm, "length") });
  const sag = { rider: t("rider sag"), static: t("static sag") }[/** @type {"rider"} */ (found.sag)];
  return `${sag} ${withUnit(found.mean_mm, "length", { sign: true })}, ${tn(found.cards, "{n} card", "{n} cards")}, ${rest}`;
}

/** @param {any} old @param {string | null} quantity */
function value(old, quantity) {
  if (old === null || old === undefined || old === "") return "–";
  if (typeof old === "boolean") return old ? t("yes") : t("no");
  if (typeof old !== "number" || !quantity || !unitsOf(quantity).length) return typeof old === "number" ? written(old) : String(old).replaceAll("_", " ");
  return withUnit(old, quantity);
}

/** @param {HTMLElement} body @param {any[]} shops */
function chain(body, shops) {
  const results = h("ul", { class: "rows" });
  const state = h("p", { class: "soft small", role: "status" });
  const button = h("button", { type: "button", class: "main", id: "check-chain", onclick: () => during(button, async () => {
    replace(results);
    for (const shop of shops) results.append(await checked(shop, state));
    replace(state, t("Done."));
  }) }, t("Check the records"));
  replace(body, h("h2", null, t("Chain of records")),
    h("p", null, t("Every sealed record is numbered and carries the digest of the one before it. The check computes every digest again and names the first record that fails.")),
    h("p", { class: "soft" }, t("It cannot see that the newest record was taken away: compare the last number and head with those on the last PDF.")),
    h("div", { class: "actions first" }, button), state, results);
}

/** @param {any} shop @param {HTMLElement} state */
async function checked(shop, state) {
  let after = 0;
  for (;;) {
    replace(state, t("{name}: record {n} and on…", { name: shop.name, n: after + 1 }));
    let answer;
    try {
      answer = await get(`/api/audit/chain/?shop=${shop.id}&after=${after}`);
    } catch (error) {
      if (!(error instanceof Offline)) throw error;
      return verdict(shop, t("not checked: no connection"), "");
    }
    if (answer.failure) return verdict(shop, t("record {number} fails", { number: answer.failure.number }), `${answer.failure.why[0].toUpperCase()}${answer.failure.why.slice(1)}.`);
    after = answer.next ?? after + answer.checked;
    if (answer.next === null) return verdict(shop, after ? tn(after, "{n} record holds", "{n} records hold") : t("no record yet"), answer.head ? h("span", { class: "head" }, t("Head: {head}", { head: answer.head })) : "");
  }
}

/** @param {any} shop @param {string} found @param {string | HTMLElement} more */
const verdict = (shop, found, more) => h("li", null, h("div", { class: "row" }, h("span", { class: "row-key" }, shop.code),
  h("span", { class: "row-name" }, `${shop.name}: ${found}`), h("span", { class: "row-side" }), h("span", { class: "row-more" }, more)));
