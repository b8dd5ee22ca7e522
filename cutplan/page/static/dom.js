// Small helps for making elements.
export function el(name, attributes = {}, ...children) {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) {
    if (value === null || value === undefined || value === false) continue;
    if (key.startsWith("on")) made.addEventListener(key.slice(2), value);
    else if (key === "text") made.textContent = value;
    else if (key in made && typeof value === "boolean") made[key] = value;
    else made.setAttribute(key, value === true ? "" : value);
  }
  for (const child of children.flat()) if (child !== null && child !== undefined) made.append(child);
  return made;
}

export const button = (text, act, more = {}) => el("button", { type: "button", onclick: act, text, ...more });

export function clear(where, ...children) { where.replaceChildren(...children.flat().filter((c) => c !== null && c !== undefined)); return where; }

export function svgRing(rings, size, label) {
  const ns = "http://www.w3.org/2000/svg", svg = document.createElementNS(ns, "svg");
  svg.setAttribute("viewBox", `-2 -2 ${size[0] + 4} ${size[1] + 4}`);
  svg.setAttribute("role", "img");
  svg.setAttribute("aria-label", label);
  const path = document.createElementNS(ns, "path");
  path.setAttribute("d", rings.map((ring) => { let d = ""; for (let i = 0; i < ring.length; i += 2) d += `${i ? "L" : "M"}${ring[i]} ${size[1] - ring[i + 1]}`; return d + "Z"; }).join(""));
  path.setAttribute("fill-rule", "evenodd");
  svg.append(path);
  return svg;
}
