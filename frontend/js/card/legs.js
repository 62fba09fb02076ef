// @ts-check
/** The legs of a fork: their names, and whether what they hold parts them. */

import { t } from "../words.js";

export const LEG_NAMES = [t("Left leg"), t("Right leg")];

/** Whether the air gaps differ. @param {any[]} legs */
export const gapsPart = (legs) => legs.some((leg) => (leg.air_gap_mm ?? null) !== (legs[0].air_gap_mm ?? null));
