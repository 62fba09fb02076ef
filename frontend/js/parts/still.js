// @ts-check
/**
 * Words that a hand changes many times a second: their boxes stay as they are, so that the page is not laid out anew for
 * every step. A box grows where its words need it to, and does not shrink while the hand is there.
 *
 * @typedef {{box: HTMLElement, now: string, next: string, write: () => void}} Told words in a box that nothing else shares
 */

/** @param {Told[]} told */
export function tellStill(told) {
  const loose = told.filter(({ box }) => !box.classList.contains("is-still"));
  // All are measured before any is changed: between, each measure would lay out the page.
  const sizes = loose.map(({ box }) => box.getBoundingClientRect());
  loose.forEach(({ box }, index) => keep(box, sizes[index]));
  for (const { now, next, write } of told) if (now !== next) write();
  for (const { box, now, next } of told) if (next.length > now.length) grow(box);
}

/** @param {HTMLElement} box */
export function free(box) {
  if (!box.classList.contains("is-still")) return;
  box.classList.remove("is-still");
  box.style.inlineSize = box.style.blockSize = "";
}

/** @param {HTMLElement} box @param {DOMRect} size */
function keep(box, { width, height }) {
  box.style.inlineSize = `${width}px`;
  box.style.blockSize = `${height}px`;
  box.classList.add("is-still");
}

/** @param {HTMLElement} box */
function grow(box) {
  const { scrollHeight, clientHeight } = box;
  if (scrollHeight > clientHeight + 1) box.style.blockSize = `${scrollHeight}px`;
}
