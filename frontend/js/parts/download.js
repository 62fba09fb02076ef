// @ts-check
/** Files that the server makes: fetched with their progress, and handed to whoever asked. */

import { Offline, exchange } from "../api.js";
import { h } from "../dom.js";

const KEPT_MS = 60_000;

/**
 * Have the server make a file, fetch it and hand it over; whole or not at all.
 *
 * @param {string} path
 * @param {string} type
 * @param {AbortSignal} signal
 * @param {(part: number) => void} so
 */
export async function download(path, type, signal, so) {
  const answer = await exchange(path, { signal });
  const whole = Number(answer.headers.get("Content-Length"));
  const name = /filename="([^"]+)"/.exec(answer.headers.get("Content-Disposition") ?? "")?.[1] ?? "coilbook";
  /** @type {BlobPart[]} */
  const parts = [];
  let got = 0;
  const reader = /** @type {ReadableStream<Uint8Array>} */ (answer.body).getReader();
  for (let next = await reader.read(); !next.done; next = await reader.read()) {
    parts.push(next.value);
    got += next.value.length;
    if (whole) so(got / whole);
  }
  if (whole && got < whole) throw new Offline();
  save(new Blob(parts, { type }), name);
  return true;
}

/** Hand a file to whoever asked for it. @param {Blob} blob @param {string} name */
export function save(blob, name) {
  const href = URL.createObjectURL(blob);
  h("a", { href, download: name }).click();
  setTimeout(() => URL.revokeObjectURL(href), KEPT_MS);
}
