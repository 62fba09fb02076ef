// @ts-check
/** As received: the complaint, and how the bike stands before anything is touched. */
import { h, replace } from "../dom.js";
import { endSwitch, endsOf, lockable } from "./ends.js";
import { Entries } from "./entry.js";
import { cautionList } from "./cautions.js";
import { loosePart } from "./loose.js";
import { photoPlace } from "./photos.js";
import { group, settingForm } from "./setting-form.js";
import { fieldsSheet } from "./sheets.js";
import { sideSight } from "./sights.js";
import { t } from "../words.js";

/** @param {import("../screens/card.js").Bench} bench @returns {import("../screens/card.js").StepView} */
export function open(bench) {
  const { desk } = bench;
  const own = new Entries(fieldsSheet(desk));
  const cautions = cautionList(desk, "received");
  const forms = Object.fromEntries(endsOf(desk.card).map((end) => [end, settingForm(desk, "received", end)]));
  const photos = photoPlace(desk, "defect");
  const place = h("div", { class: "end-form" });
  const chooser = h("div");
  const show = () => {
    replace(chooser, endSwitch(bench));
    replace(place, forms[bench.end].node);
  };
  show();
  const node = h(
    "div", null, cautions.node, cautions.past,
    lockable(group(
      t("What brings it in"),
      own.text("complaint", { lines: 3, label: t("Complaint"), hint: t("In the rider's own words: what it does, where, since when.") }),
      own.number("distance_km", { quantity: "km", step: 100, hint: t("As on the counter.") }),
      own.number("hours", { quantity: "h", step: 1, label: t("Running hours") }),
      own.number("altitude_m", { quantity: "m", step: 50, label: t("Altitude"), hint: t("Where the fork was vented and is ridden.") }),
    )),
    h("h3", { class: "found" }, t("Settings found")), lockable(bikeFacts(desk)), chooser, lockable(place), photos.node,
  );
  return {
    node,
    sight: (end) => sideSight(bench, "received", end),
    news: (news) => {
      if (news === "end") show();
      cautions.sync();
      own.sync();
      photos.sync();
      for (const form of Object.values(forms)) form.sync();
    },
  };
}

/** The fixed facts: with the bike, or those of the loose part here. @param {import("./desk.js").Desk} desk */
function bikeFacts(desk) {
  const { bike } = desk.card;
  if (!bike) return h("div", null, ...endsOf(desk.card).map((end) => loosePart(desk, end)));
  return h("p", { class: "aside" }, t("Stroke, sizes and leverage belong to the bike:"), " ", h("a", { class: "touch", href: `#/bikes/${bike.id}` }, bike.title));
}
