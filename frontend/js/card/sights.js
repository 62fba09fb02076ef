// @ts-check
/** What the picture's place shows at a step. */

import { t } from "../words.js";
import { STAGE_NAMES } from "./words.js";

const STAGES = /** @type {const} */ (["received", "chosen", "built"]);

/**
 * A saved stage as the server computed it; entries that are not with the server yet make it an old picture.
 * @param {import("../screens/card.js").Bench} bench
 * @param {"received"|"chosen"|"built"} stage
 * @param {"front"|"rear"} end
 * @param {{sag?: any}} [more]
 * @returns {import("./view.js").Sight}
 */
export function sideSight({ desk }, stage, end, { sag } = {}) {
  const { card } = desk;
  const sheet = desk.sheets.get(`setting.${stage}.${end}`);
  const typed = Boolean(sheet?.waiting);
  const why = desk.offline ? t("No network: not recalculated.") : t("Not recalculated yet.");
  const problems = Object.values(sheet?.problems ?? {}).map((text) => ({ text }));
  return {
    side: desk.sides?.[stage]?.[end] ?? null,
    stage,
    beside: STAGES.slice(0, STAGES.indexOf(stage)).map((each) => ({ label: STAGE_NAMES[each], side: desk.sides?.[each]?.[end] })),
    sag: sag ?? card.sag?.[stage]?.[end] ?? null,
    targets: card.targets?.[end] ?? null,
    loads: card.loads?.[stage === "built" ? "built" : "received"]?.[end] ?? null,
    sure: desk.sure?.[stage]?.[end] ?? null,
    fresh: !desk.offline && !typed && !problems.length,
    why,
    problems,
  };
}

/**
 * The last of these stages that the card has and the server has done the sums for.
 * @param {import("./desk.js").Desk} desk
 * @param {("received"|"chosen"|"built")[]} stages the newest first
 * @param {"front"|"rear"} end
 */
export function newest(desk, stages, end) {
  return stages.find((stage) => desk.card.settings[stage]?.[end] && known(desk, stage, end)) ?? stages[stages.length - 1];
}

/**
 * Sums that came before the setting was saved know nothing of it.
 * @param {import("./desk.js").Desk} desk
 * @param {"received"|"chosen"|"built"} stage
 * @param {"front"|"rear"} end
 */
function known(desk, stage, end) {
  const side = desk.sides?.[stage]?.[end];
  return Boolean(side?.result || side?.problems?.length);
}
