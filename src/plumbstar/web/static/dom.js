// A small tree of plain objects, patched onto the page so that focus, typing and scrolling survive
// every change of state. Only h, patch and the listeners below touch the document.

const SVG = "http://www.w3.org/2000/svg";

/**
 * One node: tag, properties, children. null and false children are left out.
 * @param {string} tag
 * @param {Props} props
 * @param {...Kids} kids
 * @returns {Tree}
 */
export function h(tag, props, ...kids) {
  /** @type {Tree[]} */
  const flat = [];
  for (const kid of /** @type {any[]} */ (kids).flat(Infinity)) {
    if (kid === null || kid === undefined || kid === false || kid === true) continue;
    flat.push(typeof kid === "object" ? kid : { props: {}, kids: [], text: String(kid) });
  }
  return { tag, props: props || {}, kids: flat, text: "" };
}

/**
 * @param {any} el
 * @param {string} name
 * @param {any} value
 * @param {any} old
 */
function setProp(el, name, value, old) {
  if (name === "key" || name === "ref" || name === "raw") return;
  if (name.startsWith("on")) el[name.toLowerCase()] = value || null;
  else if (name === "value" || name === "checked") {
    // What a person is typing is never overwritten by an unchanged value.
    if (value !== old && el[name] !== value) el[name] = value ?? "";
  } else if (name === "css") {
    for (const key in value) el.style.setProperty(key, value[key]);
  } else if (value === null || value === undefined || value === false) el.removeAttribute(name);
  else el.setAttribute(name, value === true ? "" : value);
}

/**
 * @param {Tree} v
 * @param {boolean} svg
 */
function make(v, svg) {
  if (v.tag === undefined) return (v.el = document.createTextNode(v.text));
  const inside = svg || v.tag === "svg";
  const el = inside ? document.createElementNS(SVG, v.tag) : document.createElement(v.tag);
  v.el = el;
  for (const name in v.props) setProp(el, name, v.props[name], undefined);
  for (const kid of v.kids) el.append(make(kid, inside));
  if (v.props.ref) v.props.ref(el);
  return el;
}

/**
 * @param {Tree} a
 * @param {Tree} b
 */
const same = (a, b) => a.tag === b.tag && a.props.key === b.props.key;

/**
 * @param {any} old
 * @param {Tree} v
 * @param {boolean} svg
 */
function change(old, v, svg) {
  const el = (v.el = old.el);
  if (v.tag === undefined) {
    if (old.text !== v.text) el.data = v.text;
    return;
  }
  for (const name in old.props) if (!(name in v.props)) setProp(el, name, null, old.props[name]);
  for (const name in v.props) {
    const before = old.props[name];
    if (before !== v.props[name]) setProp(el, name, v.props[name], before);
  }
  if (!v.props.raw) patch(el, old.kids, v.kids, svg || v.tag === "svg");
}

/**
 * Make the children of `parent`, which are `old`, into `now`.
 * @param {any} parent
 * @param {any} old
 * @param {Tree[]} now
 */
export function patch(parent, old, now, svg = false) {
  const left = old.slice();
  const kept = now.map((v) => {
    const i = left.findIndex((/** @type {Tree} */ o) => same(o, v));
    return i < 0 ? null : left.splice(i, 1)[0];
  });
  // What goes, goes first: then what stays need not be moved, and keeps its focus.
  for (const o of left) o.el.remove();
  let at = parent.firstChild;
  now.forEach((v, i) => {
    if (kept[i]) change(kept[i], v, svg);
    else make(v, svg);
    if (v.el === at) at = at.nextSibling;
    else parent.insertBefore(v.el, at);
  });
}

/**
 * A free-standing SVG or HTML element, for the drawings that run at 20 Hz.
 * @param {string} tag
 * @param {Props} props
 * @param {...Kids} kids
 * @returns {any}
 */
export function element(tag, props, ...kids) {
  return make(h(tag, props, ...kids), tag !== "div" && tag !== "span");
}
