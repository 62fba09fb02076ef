// @ts-check
/**
 * Words that a hand changes many times a second: their boxes stay as they are, so that the page is not laid out anew for
 * every step. Words of another length may need another box: they get it, and it is kept from then on.
 *
 * @typedef {{box: HTMLElement, now: string, next: string, write: () => void}} Told words in a box that nothing else shares
 */

/** @param {Told[]} told */
export function tellStill(told) {
  const loose = told.filter(({ box, now, next }) => now.length === next.length && !box.classList.contains("is-still"));
  // All are measured before any is changed: between, each measure would lay out the page.
  const sizes = loose.map(({ box }) => box.getBoundingClientRect());
  loose.forEach(({ box }, index) => keep(box, sizes[index]));
  for (const { box, now, next, write } of told) {
    if (now.length !== next.length) free(box);
    if (now !== next) write();
  }
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
