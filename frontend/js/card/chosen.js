// @ts-check
/** Chosen: the shop's springs ranked for this rider, one fitted at a touch, then tried finer. */
import * as api from "../api.js";
import { h, replace } from "../dom.js";
import { svgFrom } from "../parts/trusted.js";
import { aimForm } from "./aim.js";
import { cautionList } from "./cautions.js";
import { endGap } from "./end-gap.js";
import { estimatePlace } from "./estimate.js";
import { endSwitch, endsOf, lockable } from "./ends.js";
import { live } from "./live.js";
import { learnedLine } from "./learned.js";
import { keepFocus } from "./paint.js";
import { onRest } from "../parts/rest.js";
import { ranking } from "./ranking.js";
import { looks } from "./looks.js";
import { readProblems } from "./sheet.js";
import { settingSheet } from "./sheets.js";
import { newest, sideSight } from "./sights.js";
import { put } from "./paths.js";
import { t } from "../words.js";
import { trial } from "./trial.js";
import { tries } from "./tries.js";

/** @param {import("../screens/card.js").Bench} bench @returns {import("../screens/card.js").StepView} */
export function open(bench) {
  const { desk } = bench;
  const cautions = cautionList(desk, "chosen");
  const places = Object.fromEntries(endsOf(desk.card).map((end) => [end, endPlace(bench, end)]));
  const estimate = estimatePlace(desk);
  const chooser = h("div");
  const place = h("div");
  const showEnd = () => {
    replace(chooser, endSwitch(bench));
    replace(place, places[bench.end].node);
    places[bench.end].wake();
  };
  showEnd();
  return {
    node: h("div", { class: "choosing" }, cautions.node, cautions.past, chooser, place, estimate.node),
    sight: (end) => places[end].sight(),
    news: (news) => {
      if (news === "end") showEnd();
      cautions.sync();
      if (news === "card") estimate.sync();
      for (const one of Object.values(places)) one.news(news);
    },
    close: () => {
      for (const one of Object.values(places)) one.close();
    },
  };
}

/**
 * One end: the needed rate, the list, the trial, and why preload is no cure.
 * @param {import("../screens/card.js").Bench} bench
 * @param {"front"|"rear"} end
 */
function endPlace(bench, end) {
  const { desk } = bench;
  const sheet = settingSheet(desk, "chosen", end);
  // `ahead`: what is shown is newer than the sums of what is saved; `marked`: it is shown as not recalculated.
  /** @type {{side: any, fresh: boolean, why: string, ahead: boolean, marked: boolean}} */
  const preview = { side: null, fresh: true, why: "", ahead: false, marked: false };
  /** What a drag's answers rest on; asked for before the first one. @type {any} */
  let basis = null;
  const list = ranking(bench, end);
  const cure = h("details", { class: "cure" });
  const asked = () => {
    preview.fresh = false;
    preview.why = t("Being recalculated.");
  };
  const failed = (/** @type {string} */ why) => {
    Object.assign(preview, { fresh: false, why, ahead: true, marked: true });
    bench.look();
  };
  const asks = live(
    async (/** @type {any} */ body) => (await api.post(`${desk.path}preview/`, { [end]: { body }, against: "received" }))[end],
    {
      asked, failed,
      answer: (side, last) => {
        restOn(side.basis);
        if (basis && trying.trying()) {
          follow();
          return;
        }
        show(side, last);
        sheet.problems = readProblems(side.problems ?? []);
      },
    },
  );
  const hand = tries((values) => api.post("/api/follow/", { basis, tries: values }), {
    asked, failed,
    answer: (side, picture) => {
      if (preview.marked || !side.result) show(side, true);
      else {
        if (!preview.ahead) shownAll = false;
        if (!shownAll) all.moves();
        Object.assign(preview, { side, fresh: true, ahead: true });
      }
      if (side.result) bench.follow(end, side, picture);
    },
  });
  // A drag's first step shows what every step does; the rest of the panel follows once, when the hand rests.
  let shownAll = false;
  const all = onRest(() => {
    shownAll = true;
    trying.sync();
    tellRebound();
    bench.look();
  });
  /** @param {any} side @param {boolean} last */
  const show = (side, last) => {
    const wrong = Boolean(side.problems?.length);
    Object.assign(preview, { side, fresh: last && !wrong, why: t("Not recalculated."), ahead: true, marked: wrong || !last });
    trying.sync();
    tellRebound();
    bench.look();
  };
  /** @param {any} next */
  const restOn = (next) => {
    basis = next;
    hand.forget();
  };
  const follow = () => {
    // What is typed may be wrong in more ways than a knob can be turned: the card's own checks answer it.
    const values = trying.values();
    if (basis && trying.trying()) {
      hand.ask(values, trying.around);
      return;
    }
    hand.stop();
    if (sheet.waiting || trying.trying()) asks.ask(Object.entries(values).reduce((body, [path, one]) => put(body, path, one), sheet.whole()));
    else asks.stop();
  };
  /** What a hand may turn to is asked for before it does; and where it shows no other, the picture that its first step changes is laid out. */
  const grasped = () => {
    if (!basis || trying.trying()) return;
    const values = trying.values();
    hand.ask(values, trying.around, { quiet: true });
    const here = hand.known(values);
    const same = !sheet.waiting && !preview.ahead && newest(desk, ["chosen", "received"], end) === "chosen";
    if (same && here?.side.result) bench.follow(end, here.side, here.picture, { tried: false });
  };
  /** Whatever a drag will rest on has changed, or is not there yet: it is fetched, and the first steps with it. */
  const ready = async () => {
    restOn(null);
    if (!desk.open || desk.offline) return;
    const { version } = desk.card;
    try {
      const found = (await api.post(`${desk.path}preview/`, { [end]: { body: sheet.whole() }, against: "received" }))[end];
      if (version !== desk.card.version) return;
      restOn(found.basis);
      grasped();
    } catch (error) {
      if (!(error instanceof api.Offline || error instanceof api.Refused)) throw error;
    }
  };
  const trying = trial(bench, end, sheet, follow, grasped);
  const gap = end === "front" ? endGap(bench, sheet, follow) : null;
  const aim = aimForm(desk, end);
  const learned = learnedLine(desk, end);
  const ahead = looks(desk, end);
  const rebound = h("p", { class: "said rebound" });
  const tellRebound = () => {
    const side = preview.ahead ? preview.side : desk.sides?.chosen?.[end];
    const text = preview.fresh ? (side?.damping?.text ?? "") : "";
    if (rebound.textContent !== text) rebound.textContent = text;
    rebound.hidden = !text;
  };
  tellRebound();
  drawCure(cure, desk, end);
  return {
    // What is locked was chosen from another day's shelf: today's ranking would mislead.
    node: h("div", { class: "choosing-end" }, lockable(aim.node), learned.node, rebound, ...(desk.open ? [trying.node, gap?.node ?? null, list.node] : []), ahead.node, cure),
    wake: () => {
      if (desk.open) list.wake();
      if (sheet.waiting && !preview.side) follow();
      else if (!basis) void ready();
    },
    sight: () => ({ ...chosenSight(bench, end, sheet, preview), ...(desk.open ? { trying } : {}) }),
    news: (/** @type {string} */ news) => {
      if (news === "card" || news === "units" || news === "sure") list.sync();
      if (news === "sides" && !sheet.waiting && !trying.trying()) {
        asks.stop();
        Object.assign(preview, { side: null, fresh: true, ahead: false, marked: false });
        if (bench.end === end) void ready();
      }
      aim.sync();
      ahead.sync();
      learned.sync();
      tellRebound();
      trying.sync();
      if (news === "sides") {
        drawCure(cure, desk, end);
        gap?.sync();
      }
    },
    close: () => {
      asks.stop();
      hand.forget();
    },
  };
}

/**
 * What is being tried, else what is chosen, else what came in.
 * @param {import("../screens/card.js").Bench} bench
 * @param {"front"|"rear"} end
 * @param {import("./sheet.js").Sheet} sheet
 * @param {{side: any, fresh: boolean, why: string, ahead: boolean}} preview
 * @returns {import("./view.js").Sight}
 */
function chosenSight(bench, end, sheet, preview) {
  const { desk } = bench;
  const also = { label: t("as received"), side: desk.sides?.received?.[end] };
  if (!sheet.waiting && !preview.ahead) {
    if (newest(desk, ["chosen", "received"], end) === "received") return sideSight(bench, "received", end);
    return { ...sideSight(bench, "chosen", end), also };
  }
  const saved = sideSight(bench, "chosen", end);
  const problems = preview.side?.problems?.length ? preview.side.problems : saved.problems;
  return {
    ...saved, sure: null, side: preview.side ?? saved.side, fresh: preview.fresh && !desk.offline && !problems?.length, also,
    why: desk.offline ? t("No network: not recalculated.") : preview.why,
    problems,
  };
}

/**
 * @param {HTMLElement} cure
 * @param {import("./desk.js").Desk} desk
 * @param {string} end
 */
function drawCure(cure, desk, end) {
  const svg = desk.sides?.preload_no_cure?.[end] ?? null;
  cure.hidden = !svg;
  if (!svg || cure.dataset.drawn === String(svg.length)) return;
  cure.dataset.drawn = String(svg.length);
  keepFocus(cure, () => replace(
    cure,
    h("summary", null, t("Preload is no cure")),
    h("p", null, end === "front"
      ? t("The same rider sag, once with the chosen springs and once with softer wound up: the soft one does not move until its preload is overcome, so it feels harsh first, and it still has less left at the end of the stroke.")
      : t("The same rider sag, once with the chosen spring and once with softer wound up: the soft one does not move until its preload is overcome, so it feels harsh first, and it still has less left at the end of the stroke.")),
    h("div", { class: "cure-picture" }, svgFrom(svg)),
  ));
}
