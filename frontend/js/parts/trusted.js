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

/**
 * Give an element of a picture another value of an attribute, or of its text where `name` is empty. Answers the one before.
 * @param {Element} element @param {string} name @param {string} value
 */
export function reshape(element, name, value) {
  const before = name ? element.getAttribute(name) ?? "" : element.textContent ?? "";
  if (before === value) return before;
  if (name && !dropped(name, value)) element.setAttribute(name, value);
  else if (!name && element.firstChild) element.firstChild.nodeValue = value;
  else if (!name) element.textContent = value;
  return before;
}

/** @template {Element} E @param {E} root @returns {E} */
function cleaned(root) {
  for (const element of [root, ...root.querySelectorAll("*")]) {
    if (DROPPED.has(element.localName.toLowerCase())) element.remove();
    for (const { name, value } of [...element.attributes]) if (dropped(name, value)) element.removeAttribute(name);
  }
  return root;
}
