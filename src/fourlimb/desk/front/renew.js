/** Lists that are made anew: who stood on one of their buttons by keyboard stands there still. */

/** @param {Element} root @param {(Node | string)[]} items */
export function renew(root, items) {
  const pressed = () => [...root.querySelectorAll("button, input, a")];
  const at = pressed().indexOf(/** @type {Element} */ (document.activeElement));
  root.replaceChildren(...items);
  const now = pressed();
  if (at >= 0 && now.length) /** @type {HTMLElement} */ (now[Math.min(at, now.length - 1)]).focus({ preventScroll: true });
}
