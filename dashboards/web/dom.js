// Small pieces for building the page. Nothing here turns a string into markup.

const SVG = 'http://www.w3.org/2000/svg';

function fill(node, props, children) {
  for (const [key, value] of Object.entries(props ?? {})) {
    if (value === undefined || value === null || value === false) continue;
    if (key.startsWith('on')) node.addEventListener(key.slice(2), value);
    else node.setAttribute(key, value === true ? '' : value);
  }
  node.append(...children.flat().filter((c) => c !== undefined && c !== null && c !== false));
  return node;
}

export const el = (tag, props, ...children) => fill(document.createElement(tag), props, children);
export const svg = (tag, props, ...children) => fill(document.createElementNS(SVG, tag), props, children);

// text writes only what differs, so that a page that shows the same does no work and loses no selection.
export function text(node, value) {
  if (node.textContent !== value) node.textContent = value;
}

export function attr(node, name, value) {
  if (value === null || value === undefined || value === false) {
    if (node.hasAttribute(name)) node.removeAttribute(name);
  } else if (node.getAttribute(name) !== String(value)) node.setAttribute(name, value);
}

// keep shows children made from items, and makes them anew only when the key of the whole list changes.
export function keep(node, key, make) {
  if (node.dataset.key === key) return;
  node.dataset.key = key;
  node.replaceChildren(...make());
}
