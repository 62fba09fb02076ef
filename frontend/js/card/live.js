// @ts-check
/** Questions asked while somebody types: the latest one wins, an older answer is dropped. */
import { Offline, Refused } from "../api.js";
import { t } from "../words.js";

/**
 * @template A
 * @param {(question: any) => Promise<A>} put asks the server
 * @param {{answer: (answer: A) => void, asked: () => void, failed: (why: string) => void}} hands
 * @param {number} rest how long the hand must rest, ms
 */
export function live(put, { answer, asked, failed }, rest = 35) {
  let number = 0;
  let timer = 0;
  /** @param {any} question */
  function ask(question) {
    const mine = ++number;
    window.clearTimeout(timer);
    asked();
    timer = window.setTimeout(async () => {
      try {
        const found = await put(question);
        if (mine === number) answer(found);
      } catch (error) {
        if (mine !== number) return;
        if (error instanceof Offline) failed(t("No network: not recalculated."));
        else if (error instanceof Refused) failed(error.problems.map((problem) => problem.text).join(" "));
        else throw error;
      }
    }, rest);
  }
  const stop = () => {
    number += 1;
    window.clearTimeout(timer);
  };
  return { ask, stop };
}
