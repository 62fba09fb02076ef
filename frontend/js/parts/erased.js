// @ts-check
/** What the business has erased, this device forgets too: copies, drafts, and changes that still wait. */

import { get } from "../api.js";
import { draft, purge, whoIsHere } from "../store.js";
import { drop } from "./outbox.js";

const EVERY_MS = 10 * 60_000;

let asked = 0;

/** Ask what was erased since this device last asked, and forget it. Without network the next try does. */
export async function forgetErased() {
  const person = whoIsHere();
  if (!person || Date.now() - asked < EVERY_MS) return;
  asked = Date.now();
  // Each person's own mark: the next one on this tablet may have changes waiting that this one cannot reach.
  const mark = draft("erasures");
  try {
    for (let more = true; more;) {
      const page = await get(`/api/erasures/?after=${mark.read() ?? 0}`);
      for (const erasure of page.results) {
        forget(erasure);
        mark.write(erasure.id);
      }
      more = page.next !== null;
    }
  } catch {
    asked = 0;
  }
}

/** @param {{customers: number[], riders: number[], bikes: number[], cards: number[]}} erasure */
function forget({ customers, riders, bikes, cards }) {
  const names = [...customers.map((id) => `customer.${id}`), ...bikes.map((id) => `bike.${id}`), ...cards.map((id) => `card.${id}`)];
  purge((name) => names.some((each) => name === each || name.startsWith(`${each}.`)));
  const paths = Object.entries({ customers, riders, bikes, cards }).flatMap(([kind, ids]) => ids.map((id) => `/api/${kind}/${id}/`));
  drop((change) => paths.some((path) => change.path.startsWith(path)) || customers.includes(change.body?.customer));
}
