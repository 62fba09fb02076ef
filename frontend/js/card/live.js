// @ts-check
/**
 * Questions asked while somebody types or drags: one on its way at most, then the newest; what was overtaken before it
 * left is never asked. So answers come in order, and an older one never lies over a newer.
 */
import { Offline, Refused } from "../api.js";
import { t } from "../words.js";

/** Why nothing was recalculated, in words. @param {Offline | Refused} error */
export const whyNot = (error) => (error instanceof Offline ? t("No network: not recalculated.") : error.problems.map((problem) => problem.text).join(" "));

/**
 * @template Q, A
 * @param {(question: Q) => Promise<A>} put asks the server
 * @param {{answer: (answer: A, last: boolean) => void, asked: () => void, failed: (why: string) => void}} hands
 *   `last`: nothing newer waits
 */
export function live(put, { answer, asked, failed }) {
  /** @type {{question: Q} | null} */
  let next = null;
  let flying = false;
  let round = 0;

  async function fly() {
    flying = true;
    try {
      while (next) {
        const { question } = next;
        const mine = round;
        next = null;
        await one(question, mine);
      }
    } finally {
      flying = false;
    }
  }

  /** @param {Q} question @param {number} mine */
  async function one(question, mine) {
    try {
      const found = await put(question);
      if (mine === round) answer(found, !next);
    } catch (error) {
      if (!(error instanceof Offline || error instanceof Refused)) throw error;
      if (mine !== round || next) return;
      failed(whyNot(error));
    }
  }

  return {
    /** @param {Q} question */
    ask: (question) => {
      next = { question };
      asked();
      if (!flying) void fly();
    },
    stop: () => {
      next = null;
      round += 1;
    },
  };
}
