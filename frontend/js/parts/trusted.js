// @ts-check
/**
 * The one place of the signed-in pages where markup becomes elements: pictures drawn by our own server, which escapes
 * what people typed. Even so nothing that runs gets through: scripts, handlers and outside links are dropped.
 */


const DROPPED = new Set(["script", "style", "iframe", "object", "embed", "foreignobject", "base", "link", "meta"]);

/** @param {string} text @returns {SVGSVGElement | null} */
export function svgFrom(text) {
  const root = new DOMParser().parseFromString(text, "image/svg+xml").documentElement;
  if (root.localName !== "svg") return null;
  return /** @type {any} */ (document.importNode(cleaned(root), true));
}

/** @template {Element} E @param {E} root @returns {E} */
function cleaned(root) {
  for (const element of [root, ...root.querySelectorAll("*")]) {
    if (DROPPED.has(element.localName.toLowerCase())) element.remove();
    for (const { name, value } of [...element.attributes]) {
      const outside = /^(xlink:)?href$|^src$|^action$/.test(name) && !/^(#|\/(?!\/)|data:image\/(png|svg\+xml)[;,])/.test(value);
      if (name.startsWith("on") || name === "style" || outside) element.removeAttribute(name);
    }
  }
  return root;
}
