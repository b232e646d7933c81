/** Nodes of the page, made and changed by hand: text is always text, never markup. */

const SVG = "http://www.w3.org/2000/svg";

export type Attributes = Readonly<Record<string, string | number>>;

/** Sets attributes of a node; those that are as they were are left alone. */
export function put(node: Element, attributes: Attributes): void {
  for (const [name, value] of Object.entries(attributes)) {
    const text = String(value);
    if (node.getAttribute(name) !== text) node.setAttribute(name, text);
  }
}

/** A node of a picture. */
export function shape(name: string, attributes: Attributes, ...inside: Element[]): SVGElement {
  const made = document.createElementNS(SVG, name);
  put(made, attributes);
  made.append(...inside);
  return made;
}

/** Words in a picture. */
export function lettering(attributes: Attributes, text: string): SVGElement {
  const made = shape("text", attributes);
  made.textContent = text;
  return made;
}

/** A node of the page, with text or other nodes in it. */
export function element<Name extends keyof HTMLElementTagNameMap>(
  name: Name,
  attributes: Attributes,
  ...inside: (Node | string)[]
): HTMLElementTagNameMap[Name] {
  const made = document.createElement(name);
  put(made, attributes);
  made.append(...inside);
  return made;
}

/** Changes a text only where it differs, so that nothing is laid out or read out again. */
export function tell(node: Element, text: string): void {
  if (node.textContent !== text) node.textContent = text;
}

/** An empty picture of some size; what it finds is told by its label. */
export function picture(wide: number, tall: number, look: string): SVGElement {
  return shape("svg", { class: `sketch moving ${look}`, viewBox: `0 0 ${wide} ${tall}` });
}

/** A number of a path, to a tenth of the picture's unit. */
function digits(value: number): number {
  return Math.round(value * 10) / 10;
}

/** Path through places of a picture, two numbers each. */
export function polyline(points: ArrayLike<number>, closed = false): string {
  let path = "";
  for (let i = 0; i + 1 < points.length; i += 2) {
    path += `${i ? "L" : "M"}${digits(points[i]!)} ${digits(points[i + 1]!)}`;
  }
  return closed ? `${path}Z` : path;
}
