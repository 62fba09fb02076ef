// @ts-check
/** Days and times as the shop's clock has them. */

import { whoIsHere } from "../store.js";
import { locale } from "../words.js";

/** @param {string | null | undefined} iso @param {Intl.DateTimeFormatOptions} form */
function written(iso, form) {
  if (!iso) return "–";
  const timeZone = iso.length > 10 ? whoIsHere()?.shop.time_zone : "UTC";
  return new Intl.DateTimeFormat(locale, { ...form, timeZone }).format(new Date(iso));
}

/** "25 Nov 2026" @param {string | null | undefined} iso */
export const day = (iso) => written(iso, { day: "numeric", month: "short", year: "numeric" });

/** "25 Nov 2026, 13:05" @param {string | null | undefined} iso */
export const moment = (iso) => written(iso, { day: "numeric", month: "short", year: "numeric", hour: "2-digit", minute: "2-digit" });
