// What a test needs: a few ways to be sure, and as much of a document as drawings ask for.

export function same(got, wanted) {
  const [a, b] = [JSON.stringify(got), JSON.stringify(wanted)];
  if (a !== b) throw new Error(`${a} instead of ${b}`);
}

export function near(got, wanted, by = 1e-9) {
  if (!(Math.abs(got - wanted) <= by)) throw new Error(`${got} instead of ${wanted}`);
}

export function sure(what, told = "it is not so") {
  if (!what) throw new Error(told);
}

class Node {
  constructor(tag) {
    this.tag = tag;
    this.attributes = {};
    this.children = [];
    this.listeners = {};
    this.textContent = "";
  }
  setAttribute(name, value) { this.attributes[name] = String(value); }
  getAttribute(name) { return this.attributes[name] ?? null; }
  removeAttribute(name) { delete this.attributes[name]; }
  append(...kids) { this.children.push(...kids); }
  replaceChildren(...kids) { this.children = kids; }
  remove() {}
  focus() { document.activeElement = this; }
  addEventListener(name, done) { this.listeners[name] = done; }
  getBoundingClientRect() { return { left: 0, top: 0, width: 1080, height: 286 }; }
  /** All below it of that tag and class. */
  all(tag, cls) {
    const own = this.children.flatMap((k) => (k.all ? [k, ...k.all()] : []));
    return own.filter((k) => (!tag || k.tag === tag) && (!cls || k.attributes.class === cls));
  }
  get words() { return this.textContent + this.children.map((k) => k.words ?? "").join(""); }
}

globalThis.document = {
  createElement: (tag) => new Node(tag),
  createElementNS: (_, tag) => new Node(tag),
  createTextNode: (text) => ({ words: text }),
};
