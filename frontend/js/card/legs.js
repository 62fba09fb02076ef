// @ts-check
/** The legs of a fork: their names, and whether what they hold parts them. */

export const LEG_NAMES = ["Left leg", "Right leg"];

/** Whether the air gaps differ. @param {any[]} legs */
export const gapsPart = (legs) => legs.some((leg) => (leg.air_gap_mm ?? null) !== (legs[0].air_gap_mm ?? null));
