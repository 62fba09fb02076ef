// @ts-check

import { language, t } from "./words.js";
import { languageSwitch } from "./parts/language.js";
// The customer's page. The link's secret stands in the fragment, which no server sees: it is exchanged by POST.

const WORDS = {
  none: t("This address is not complete. Open the whole link that your workshop gave you."),
  gone: t("This link shows nothing: it is not complete, has run out, or was taken back. Ask your workshop for a new one."),
  busy: t("Too many tries just now. Wait a minute, then open the link again."),
  offline: t("No connection. Try again when you are online."),
  failed: t("The workshop's service did not answer. Try again later."),
};

/** @returns {HTMLElement} */
function main() {
  return /** @type {HTMLElement} */ (document.getElementById("record"));
}

/** Say one sentence instead of the page. @param {string} text */
function say(text) {
  const line = document.createElement("p");
  line.id = "say";
  line.setAttribute("role", "status");
  line.textContent = text;
  main().replaceChildren(line);
  main().removeAttribute("aria-busy");
}

/**
 * POST `body` to the API, without cookies: the link is all that this page knows.
 * @param {string} path
 * @param {Record<string, string>} body
 */
function post(path, body) {
  return fetch(path, {
    method: "POST",
    headers: { "Content-Type": "application/json", "Accept-Language": language },
    body: JSON.stringify(body),
    credentials: "omit",
    cache: "no-store",
    referrerPolicy: "no-referrer",
  });
}

/** Return why a response is none, as one sentence. @param {Response} response */
async function refusal(response) {
  if (response.status === 404) return WORDS.gone;
  if (response.status === 429) return WORDS.busy;
  try {
    const { problems } = await response.json();
    return problems[0].text;
  } catch {
    return WORDS.failed;
  }
}

/** Put a fragment of the server's own markup into the page. @param {string} html @param {string} language */
function show(html, language) {
  document.documentElement.lang = language;
  const parsed = new DOMParser().parseFromString(html, "text/html");
  main().replaceChildren(...parsed.body.childNodes);
  main().removeAttribute("aria-busy");
}

/** Fetch the PDF and offer it. @param {HTMLButtonElement} button @param {string} secret */
async function fetchPdf(button, secret) {
  const words = button.textContent;
  button.disabled = true;
  button.textContent = t("Fetching the PDF");
  try {
    const response = await post("/api/record/pdf/", { secret });
    if (!response.ok) throw new Error(await refusal(response));
    const address = URL.createObjectURL(await response.blob());
    const link = document.createElement("a");
    link.href = address;
    link.download = "suspension-record.pdf";
    link.click();
    setTimeout(() => URL.revokeObjectURL(address), 60_000);
    button.textContent = words;
  } catch (error) {
    button.textContent = error instanceof TypeError ? WORDS.offline : String(/** @type {Error} */ (error).message);
  }
  button.disabled = false;
}

/** Exchange an estimate's secret for its page, and let the customer answer. @param {string} secret */
async function estimate(secret) {
  await showEstimate(await post("/api/estimate/open/", { secret }), secret);
}

/** @param {Response} response @param {string} secret */
async function showEstimate(response, secret) {
  if (!response.ok) return say(await refusal(response));
  const { title, html, language } = await response.json();
  document.title = title;
  show(html, language);
  for (const button of document.querySelectorAll("[data-estimate]")) {
    button.addEventListener("click", () => answerEstimate(/** @type {HTMLButtonElement} */ (button), secret));
  }
  return undefined;
}

/** @param {HTMLButtonElement} pressed @param {string} secret */
async function answerEstimate(pressed, secret) {
  const answer = pressed.dataset.estimate ?? "";
  const told = /** @type {HTMLElement} */ (document.getElementById("rec-answer"));
  if (answer === "declined" && pressed.dataset.sure !== "yes") {
    pressed.dataset.sure = "yes";
    pressed.textContent = t("Yes, decline");
    told.textContent = t("Declining cannot be taken back here. Press once more to decline.");
    return;
  }
  for (const button of document.querySelectorAll("[data-estimate]")) /** @type {HTMLButtonElement} */ (button).disabled = true;
  try {
    const response = await post("/api/estimate/answer/", { secret, answer });
    if (response.status === 409) await estimate(secret);
    else await showEstimate(response, secret);
  } catch {
    for (const button of document.querySelectorAll("[data-estimate]")) /** @type {HTMLButtonElement} */ (button).disabled = false;
    told.textContent = navigator.onLine ? WORDS.failed : WORDS.offline;
  }
}

/** Show whether a printed record is valid. @param {string} number @param {string} head */
async function check(number, head) {
  const response = await post("/api/record/check/", { number, head });
  if (!response.ok) return say(await refusal(response));
  const { title, html, language } = await response.json();
  document.title = title;
  return show(html, language);
}

/** Exchange the secret for the page. @param {string} secret */
async function open(secret) {
  const response = await post("/api/record/open/", { secret });
  if (!response.ok) return say(await refusal(response));
  const { title, html, other, language } = await response.json();
  document.title = title;
  others.remove();
  return showRecord(html, other, language, secret);
}

/** Show a record, and, at the press of a button, in the other units. @param {string} html @param {string} other
 * @param {string} language @param {string} secret */
function showRecord(html, other, language, secret) {
  show(html, language);
  const button = /** @type {HTMLButtonElement | null} */ (document.querySelector("[data-record=pdf]"));
  button?.addEventListener("click", () => fetchPdf(button, secret));
  const units = /** @type {HTMLButtonElement | null} */ (document.querySelector("[data-record=units]"));
  units?.addEventListener("click", () => {
    const place = scrollY;
    showRecord(other, html, language, secret);
    scrollTo(0, place);
    /** @type {HTMLElement} */ (document.querySelector("[data-record=units]")).focus({ preventScroll: true });
  });
}

// A sealed record keeps the language it was sealed in; all else here is said in the customer's.
const others = languageSwitch();

async function start() {
  const fragment = location.hash.slice(1);
  const printed = /^v\.(\d+)\.([0-9a-f]{64})$/.exec(fragment);
  try {
    if (printed) await check(printed[1], printed[2]);
    else if (fragment.startsWith("e.")) await estimate(fragment.slice(2));
    else if (fragment) await open(fragment);
    else say(WORDS.none);
  } catch {
    say(navigator.onLine ? WORDS.failed : WORDS.offline);
  }
}

/** @type {HTMLElement} */ (document.getElementById("say")).textContent = t("Fetching your suspension record.");
main().after(others);
addEventListener("hashchange", start);
start();
