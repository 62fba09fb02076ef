// @ts-check
/** What the picture's place shows at a step. */

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
  const why = desk.offline ? "No network: not recalculated." : "Not recalculated yet.";
  const problems = Object.values(sheet?.problems ?? {}).map((text) => ({ text }));
  return {
    side: desk.sides?.[stage]?.[end] ?? null,
    stage,
    sag: sag ?? card.sag?.[stage]?.[end] ?? null,
    targets: card.targets?.[end] ?? null,
    loads: card.loads?.[stage === "built" ? "built" : "received"]?.[end] ?? null,
    fresh: !desk.offline && !typed && !problems.length,
    why,
    problems,
  };
}
