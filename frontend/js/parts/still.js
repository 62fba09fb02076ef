// @ts-check
/**
 * Words that a hand changes many times a second: their box stays as it is, so that the page is not laid out anew for
 * every step. Words of another length may need another box: they get it, and it is kept from then on.
 */

/** @param {HTMLElement} box holds the words, and nothing beside it shares its line */
export function still(box) {
  let length = -1;

  function free() {
    length = -1;
    if (!box.classList.contains("is-still")) return;
    box.classList.remove("is-still");
    box.style.inlineSize = box.style.blockSize = "";
  }

  return {
    /**
     * @param {number} long how many characters the words have
     * @param {() => void} write
     */
    tell(long, write) {
      if (long !== length) free();
      else if (!box.classList.contains("is-still")) keep(box);
      length = long;
      write();
    },
    free,
  };
}

/** @param {HTMLElement} box */
function keep(box) {
  const { width, height } = box.getBoundingClientRect();
  box.style.inlineSize = `${width}px`;
  box.style.blockSize = `${height}px`;
  box.classList.add("is-still");
}
