// @ts-check
/**
 * The one place where markup becomes elements: pictures and pages drawn by our own server, which escapes what people
 * typed. Even so nothing that runs gets through: scripts, handlers and outside links are dropped.
 */

const DROPPED = new Set(["script", "style", "iframe", "object", "embed", "foreignobject", "base", "link", "meta"]);

/** @param {string} text @returns {SVGSVGElement | null} */
export function svgFrom(text) {
  const root = new DOMParser().parseFromString(text, "image/svg+xml").documentElement;
  if (root.localName !== "svg") return null;
  return /** @type {any} */ (document.importNode(cleaned(root), true));
}

/** @param {string} text @returns {DocumentFragment} */
export function htmlFrom(text) {
  const parsed = new DOMParser().parseFromString(text, "text/html");
  cleaned(parsed.body);
  const fragment = document.createDocumentFragment();
  fragment.append(...Array.from(parsed.body.childNodes, (node) => document.importNode(node, true)));
  return fragment;
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
