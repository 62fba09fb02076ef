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

/** @param {string} name of an attribute @param {string} value */
function dropped(name, value) {
  const outside = /^(xlink:)?href$|^src$|^action$/.test(name) && !/^(#|\/(?!\/)|data:image\/(png|svg\+xml)[;,])/.test(value);
  return name.startsWith("on") || name === "style" || outside;
}

/** What an attribute of an element says, or its text where `name` is empty. @param {Element} element @param {string} name */
export const valueOf = (element, name) => (name ? element.getAttribute(name) : element.textContent) ?? "";

/**
 * Give an element of a picture another value of an attribute, or of its text where `name` is empty.
 * @param {Element} element @param {string} name @param {string} value
 */
export function reshape(element, name, value) {
  if (valueOf(element, name) === value) return;
  if (!name) element.textContent = value;
  else if (!dropped(name, value)) element.setAttribute(name, value);
}

/** @template {Element} E @param {E} root @returns {E} */
function cleaned(root) {
  for (const element of [root, ...root.querySelectorAll("*")]) {
    if (DROPPED.has(element.localName.toLowerCase())) element.remove();
    for (const { name, value } of [...element.attributes]) if (dropped(name, value)) element.removeAttribute(name);
  }
  return root;
}
