// @ts-check
/**
 * Handles over a picture: dragged up and down, or turned with the arrow keys. What a handle turns is not known here;
 * the picture is drawn by the server, and each handle rides on its curve.
 *
 * @typedef {import("../card/knobs.js").Knob} Knob
 * @typedef {{value: (path: string) => number | null | undefined, grasp: (knob: Knob) => void, turn: (knob: Knob, value: number) => void,
 *   keep: (knob: Knob, how?: {more?: boolean}) => void}} Hands
 */
import { h, replace, write } from "../dom.js";
import { moved, withUnit } from "../units.js";
import { onRest } from "./rest.js";

/** How far the finger goes for one step, px: coarse enough for a glove. */
const PX_PER_STEP = 5;
const KEYS = /** @type {Record<string, number>} */ ({ ArrowUp: 1, ArrowRight: 1, ArrowDown: -1, ArrowLeft: -1, PageUp: 5, PageDown: -5 });

/** How far beside its curve a held handle may be, per cent of the picture: a finger lies on it, and every move costs the hand time. */
const BESIDE = 1.5;

export function grips() {
  const node = h("div", { class: "grips" });
  /** `at`: where it stands, in per cent of the picture. @type {{knob: Knob, grip: HTMLElement, at: {left: number, top: number}}[]} */
  let all = [];
  /** @type {Hands | null} */
  let hands = null;
  let drawn = "";
  /** The one that is dragged; the others are out of sight meanwhile. @type {HTMLElement | null} */
  let held = null;
  /** @type {(share: number) => {left: number, top: number}} */
  let place = () => ({ left: 0, top: 0 });

  const sayAll = () => all.forEach(({ knob, grip }) => say(knob, grip));
  // What a handle says comes with the answer's own frame; where that is late, it does not wait.
  const late = onRest(sayAll);

  function ride() {
    late.done();
    for (const one of all) {
      const { knob, grip, at } = one;
      if (held && grip !== held) continue;
      say(knob, grip);
      const { left, top } = place(knob.at);
      if (held && Math.hypot(at.left - left, at.top - top) < BESIDE) continue;
      one.at = { left, top };
      grip.style.transform = `translate(${left}cqw, ${top}cqh)`;
    }
  }

  /** @param {HTMLElement | null} grip */
  function hold(grip) {
    held?.classList.remove("is-held");
    grip?.classList.add("is-held");
    held = grip;
    node.classList.toggle("one-held", Boolean(grip));
    if (!grip) ride();
  }

  /** @param {Knob} knob */
  function made(knob) {
    /** @type {{y: number, value: number} | null} */
    let from = null;
    const reach = () => hands?.value(knob.path);
    /** @param {PointerEvent} event */
    const follow = ({ clientY }) => {
      if (from) take(turned(knob, from.value, Math.round((from.y - clientY) / PX_PER_STEP) * knob.up));
    };
    const grip = h("button", {
      type: "button", class: `grip ${knob.at ? (knob.at > 0.5 ? "is-late" : "") : "is-first"}`, role: "slider", "aria-label": knob.label, "aria-orientation": "vertical", name: `${knob.path}.grip`,
      onpointerdown: (/** @type {PointerEvent} */ event) => {
        const value = reach();
        if (typeof value !== "number") return;
        from = { y: event.clientY, value };
        grip.setPointerCapture(event.pointerId);
        hold(grip);
        hands?.grasp(knob);
      },
      onpointerenter: () => hands?.grasp(knob),
      onfocus: () => hands?.grasp(knob),
      // The second, where a browser has it, comes at once, the first only with the next frame.
      onpointermove: follow,
      onpointerrawupdate: follow,
      onlostpointercapture: () => {
        from = null;
        hold(null);
        hands?.keep(knob);
      },
      onkeydown: (/** @type {KeyboardEvent} */ event) => {
        const value = reach();
        const ends = event.key === "Home" ? knob.low : event.key === "End" ? knob.high : null;
        if (typeof value !== "number" || !(event.key in KEYS || ends !== null)) return;
        event.preventDefault();
        take(ends ?? turned(knob, value, KEYS[event.key]));
        hands?.keep(knob, { more: true });
      },
      onblur: () => hands?.keep(knob),
    });
    grip.append(h("span", { class: "grip-says", "aria-hidden": "true" }, "\u00a0"));
    const take = (/** @type {number} */ value) => {
      if (value === reach()) return;
      late.moves();
      hands?.turn(knob, value);
      // Laid out before the frame begins, it has only to be painted there.
      void node.offsetHeight;
    };
    return { knob, grip, at: { left: -1, top: -1 } };
  }

  /** @param {Knob} knob @param {HTMLElement} grip */
  function say(knob, grip) {
    const value = hands?.value(knob.path);
    grip.hidden = typeof value !== "number";
    if (typeof value !== "number") return;
    const said = withUnit(value, knob.quantity);
    if (grip.getAttribute("aria-valuetext") === said) return;
    grip.setAttribute("aria-valuenow", String(value));
    grip.setAttribute("aria-valuetext", said);
    write(/** @type {Element} */ (grip.firstElementChild), `${knob.label} ${said}`);
  }

  return {
    node,
    /**
     * Show these knobs as handles.
     * @param {Knob[]} knobs
     * @param {Hands} turns
     */
    show(knobs, turns) {
      hands = turns;
      const shape = JSON.stringify(knobs);
      if (shape !== drawn) {
        drawn = shape;
        all = knobs.map(made);
        for (const { knob, grip } of all) {
          grip.setAttribute("aria-valuemin", String(knob.low));
          grip.setAttribute("aria-valuemax", String(knob.high));
        }
        replace(node, ...all.map(({ grip }) => grip));
        hold(null);
      }
      sayAll();
    },
    /**
     * Let the handles ride on a curve.
     * @param {(share: number) => {left: number, top: number}} next in per cent of the picture, at a share of the travel
     */
    ride(next) {
      place = next;
      ride();
    },
  };
}

/**
 * A value so many steps further, in the unit in hand, within the knob's range.
 * @param {Knob} knob
 * @param {number} value
 * @param {number} steps
 */
export function turned({ low, high, step, quantity }, value, steps) {
  return steps ? Math.min(Math.max(moved(value, steps, step, quantity), low), high) : value;
}
