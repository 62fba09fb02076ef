// @ts-check
/**
 * The server's picture with a read-out over it. Touch the picture or move the slider under it (arrow keys do): the
 * forces at that travel are written out. The picture itself is never drawn here.
 *
 * @typedef {Record<string, Record<string, string>>} Changes new values by an element's place and an attribute's name, "" for its text
 * @typedef {{label: string, curve: {travel_mm: number[], total_n: number[], total_hard_n?: number[]}}} Trace
 */

import { freshId, h, replace } from "../dom.js";
import { inUnit } from "../units.js";
import { grips } from "./grips.js";
import { onRest } from "./rest.js";
import { reshape, svgFrom, valueOf } from "./trusted.js";
import { t } from "../words.js";

/** Elements that say something, or lead to what does. */
const WORDS = new Set(["text", "tspan", "desc", "line"]);

/**
 * @param {{label: string, empty?: string}} options `label`: what the picture shows; `empty`: what goes here, while
 *   there is none
 */
export function picture({ label, empty = t("The picture comes with the first numbers.") }) {
  const frame = h("div", { class: "picture-frame" }, h("p", { class: "empty" }, empty));
  const line = h("div", { class: "picture-line", "aria-hidden": "true" });
  line.hidden = true;
  const state = h("p", { class: "picture-state", role: "status" });
  const id = freshId("readout");
  const slider = h("input", {
    type: "range", id, min: "0", max: "1000", step: "5", value: "0", "data-unit-aware": true,
    oninput: () => readOut(), onunitschange: () => readOut(),
  });
  const out = h("output", { for: id });
  const reader = h("div", { class: "picture-reader" }, h("label", { for: id }, t("Read at travel")), slider, out);
  reader.hidden = true;
  const handles = grips();
  const element = h("figure", { class: "picture", "aria-label": label }, h("div", { class: "picture-plot" }, frame, line, handles.node), state, reader);
  /** @type {SVGSVGElement | null} */
  let svg = null;
  let plot = { left: 0, top: 0, width: 1, height: 1, travelMax: 1, forceMax: 1 };
  /** @type {Trace[]} */
  let traces = [];
  /** What a hand drags: the picture that it began with, its elements, and what was where it changed something. */
  let base = "";
  /** @type {Element[]} */
  let parts = [];
  /** @type {Changes} */
  let firsts = {};
  /** What it changed last. @type {Changes} */
  let last = {};
  /** Words that its moves change, with what leads to them: out of sight till it rests, for they take the longest to lay out. @type {Set<Element>} */
  const words = new Set();
  const rest = onRest(settle);

  frame.addEventListener("pointerdown", (event) => {
    point(event);
    frame.setPointerCapture(event.pointerId);
  });
  frame.addEventListener("pointermove", (event) => {
    if (frame.hasPointerCapture(event.pointerId)) point(event);
  });

  /** @param {PointerEvent} event */
  function point(event) {
    if (!svg || !traces.length) return;
    const box = svg.getBoundingClientRect();
    const share = ((event.clientX - box.left) / box.width - plot.left) / plot.width;
    slider.value = String(Math.round(Math.min(Math.max(share, 0), 1) * 1000));
    readOut();
  }

  function readOut() {
    if (!svg || !traces.length) return;
    const share = Number(slider.value) / 1000;
    const travel = share * plot.travelMax;
    const at = inUnit(travel, "length", { decimals: travel < 10 ? 1 : 0 });
    const words = traces.map((trace) => {
      const force = between(trace.curve.travel_mm, trace.curve.total_n, travel);
      const shown = inUnit(force, "force");
      return force === null ? t("{label}: past its travel", { label: trace.label }) : `${trace.label} ${shown.text} ${shown.unit}`;
    });
    replace(out, h("strong", null, `${at.text} ${at.unit}`), ...words.map((each) => h("span", null, each)));
    slider.setAttribute("aria-valuetext", `${at.text} ${at.unit}: ${words.join(", ")}`);
    line.hidden = false;
    line.style.left = `${(plot.left + share * plot.width) * 100}%`;
    line.style.top = `${plot.top * 100}%`;
    line.style.height = `${plot.height * 100}%`;
  }

  /** Where the curve in hand, the first that can be read, stands at a share of the travel. @param {number} share */
  function onCurve(share) {
    const { travel_mm: xs, total_n: ys } = traces[0].curve;
    const travel = share * xs[xs.length - 1];
    const [across, up] = [travel / plot.travelMax, (between(xs, ys, travel) ?? 0) / plot.forceMax].map((part) => Math.min(part, 1));
    return { left: (plot.left + across * plot.width) * 100, top: (plot.top + (1 - up) * plot.height) * 100 };
  }

  /** Change what a hand changed last, and what it has left again back. @param {boolean} moves the hand does still */
  function change(moves) {
    for (const [place, values] of Object.entries(last)) {
      for (const name of Object.keys(values)) (firsts[place] ??= {})[name] ??= valueOf(parts[Number(place)], name);
    }
    for (const [place, values] of Object.entries(firsts)) {
      const part = parts[Number(place)];
      if (moves && WORDS.has(part.localName)) hide(part);
      else for (const [name, first] of Object.entries(values)) reshape(part, name, last[place]?.[name] ?? first);
    }
  }

  /** @param {Element} part holds words */
  function hide(part) {
    if (words.has(part)) return;
    words.add(part);
    part.closest("text, line")?.classList.add("is-behind");
  }

  function settle() {
    change(false);
    bring();
  }

  function bring() {
    for (const part of words) part.closest("text, line")?.classList.remove("is-behind");
    words.clear();
  }

  return {
    element,
    handles,
    /**
     * Show a picture, and read these traces over it.
     *
     * @param {string | null} text the server's SVG; null leaves the place empty
     * @param {Trace[]} [readable]
     */
    show(text, readable = []) {
      base = "";
      rest.done();
      bring();
      svg = text ? svgFrom(text) : null;
      if (svg) plot = plotOf(svg);
      traces = svg ? readable : [];
      element.classList.remove("stale");
      replace(state);
      replace(frame, svg ?? h("p", { class: "empty" }, empty));
      reader.hidden = !traces.length;
      line.hidden = true;
      handles.node.hidden = !traces.length;
      if (traces.length) handles.ride(onCurve);
      if (traces.length && slider.value !== "0") readOut();
      else replace(out);
    },
    /**
     * Show a picture with what a hand changed of it, touching nothing else: this is done for every frame of a drag.
     * @param {string} text the server's SVG
     * @param {Changes} changes
     * @param {Trace[]} readable
     */
    follow(text, changes, readable) {
      if (base !== text || !svg) {
        this.show(text, readable);
        base = text;
        firsts = {};
        parts = svg ? [svg, ...svg.querySelectorAll("*")] : [];
      }
      last = changes;
      change(true);
      rest.moves();
      traces = readable;
      // Even a class that is not there costs a look at every rule, when it is taken away.
      if (element.classList.contains("stale")) element.classList.remove("stale");
      if (state.firstChild) replace(state);
      handles.ride(onCurve);
      if (slider.value !== "0") readOut();
    },
    /** Keep the last picture, marked. @param {string} [why] */
    stale(why = t("not recalculated")) {
      element.classList.add("stale");
      replace(state, why);
    },
  };
}

/**
 * Where the plot lies, in shares of the picture, and what its far corner stands for.
 * @param {SVGSVGElement} svg
 */
function plotOf({ dataset, viewBox: { baseVal: view } }) {
  const [x0, x1, y0, y1, travelMax, forceMax] = ["x0", "x1", "y0", "y1", "travelMax", "forceMax"].map((name) => Number(dataset[name]));
  return { left: x0 / view.width, top: y0 / view.height, width: (x1 - x0) / view.width, height: (y1 - y0) / view.height, travelMax, forceMax };
}

/**
 * @param {number[]} xs rising
 * @param {number[]} ys
 * @param {number} x
 * @returns {number | null} null outside of `xs`
 */
function between(xs, ys, x) {
  const after = xs.findIndex((each) => each >= x);
  if (after < 0) return null;
  if (after === 0) return ys[0];
  const share = (x - xs[after - 1]) / (xs[after] - xs[after - 1]);
  return ys[after - 1] + share * (ys[after] - ys[after - 1]);
}
