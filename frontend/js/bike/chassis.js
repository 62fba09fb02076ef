// @ts-check
/** A bike's chassis: what pitch, trail, dive and squat are worked out from. Read, and changed in a folded form. */
import { h } from "../dom.js";
import { choiceField, numberField } from "../parts/field.js";
import { form } from "../parts/form.js";
import { measure } from "../parts/measure.js";
import { deliver } from "../parts/outbox.js";
import { t } from "../words.js";

const STOOD = [
  { value: "alone", text: t("bike alone") }, { value: "extended", text: t("fully extended") }, { value: "with_rider", text: t("with rider") },
];

/** @type {{key: string, label: string, quantity: string, hint?: string, step?: number, start?: number, decimals?: number}[]} */
const FACTS = [
  { key: "wheelbase_mm", label: t("Wheelbase"), quantity: "length", step: 5, hint: t("Axle to axle.") },
  { key: "front_radius_mm", label: t("Front wheel’s loaded radius"), quantity: "length", hint: t("Axle to ground.") },
  { key: "rear_radius_mm", label: t("Rear wheel’s loaded radius"), quantity: "length", hint: t("Axle to ground.") },
  { key: "offset_mm", label: t("Front axle’s offset"), quantity: "length", hint: t("From the steering axis, square to it. Or the trail.") },
  { key: "trail_mm", label: t("Trail"), quantity: "length", hint: t("Instead of the offset.") },
  { key: "mass_height_mm", label: t("Height of the centre of mass"), quantity: "length", step: 10, hint: t("Bike with rider: for braking and drive.") },
  { key: "pivot_x_mm", label: t("Swingarm pivot, ahead of the rear axle"), quantity: "length", step: 5 },
  { key: "pivot_z_mm", label: t("Swingarm pivot, above the ground"), quantity: "length", step: 5 },
  { key: "front_sprocket_x_mm", label: t("Front sprocket, ahead of the rear axle"), quantity: "length", step: 5 },
  { key: "front_sprocket_z_mm", label: t("Front sprocket, above the ground"), quantity: "length", step: 5 },
  { key: "front_teeth", label: t("Front sprocket’s teeth"), quantity: "", decimals: 0, start: 14 },
  { key: "rear_teeth", label: t("Rear sprocket’s teeth"), quantity: "", decimals: 0, start: 46 },
  { key: "chain_pitch_mm", label: t("Chain’s pitch"), quantity: "length", start: 15.875, decimals: 3, hint: t("Blank: 15.875 mm, the usual.") },
];

/** What is known of the chassis, to read. @param {any} bike */
export function chassisFacts(bike) {
  const data = bike.chassis;
  if (!data) {
    return h("p", { class: "empty" }, t("Nothing is known of the chassis yet. With wheelbase, wheel radii and offset or trail every card can say how the bike will sit and steer; with the rest, how it dives and drives."));
  }
  const stood = STOOD.find((one) => one.value === (data.measured_at ?? "alone"));
  const known = FACTS.filter(({ key }) => data[key] !== null && data[key] !== undefined);
  return h("dl", { class: "facts" },
    h("div", null, h("dt", null, t("Measured")), h("dd", null, stood?.text ?? "")),
    ...known.map(({ key, label, quantity }) => h("div", null, h("dt", null, label), h("dd", null, quantity ? measure(data[key], quantity, { what: `${label},` }) : String(data[key])))));
}

/**
 * @param {any} bike
 * @param {{path: string, done: (saved: any) => void, back: () => void}} hands
 */
export function chassisForm(bike, { path, done, back }) {
  const data = bike.chassis ?? {};
  const stood = choiceField({
    name: "chassis.measured_at", label: t("How it stood when measured"), choices: STOOD, value: data.measured_at ?? "alone",
    hint: t("The maker’s figures are mostly for the bike alone."),
  });
  const numbers = FACTS.map(({ key, ...fact }) => numberField({ name: `chassis.${key}`, ...fact, value: data[key] ?? null }));
  const draftName = `bike.${bike.id}.chassis`;
  return form({
    title: t("Chassis"), fields: [stood, ...numbers], submit: t("Save"), draftName, version: bike.version, done,
    layout: [stood.element, h("div", { class: "pair" }, ...numbers.map((field) => field.element))],
    extra: [h("button", { type: "button", onclick: back }, t("Back"))],
    send: (values, version) => {
      const known = Object.fromEntries(["measured_at", ...FACTS.map(({ key }) => key)].map((key) => [key, values[`chassis.${key}`]]));
      return deliver({ method: "PATCH", path, body: { chassis: known }, version, about: t("{title}, chassis", { title: bike.title }), draft: draftName });
    },
  });
}
