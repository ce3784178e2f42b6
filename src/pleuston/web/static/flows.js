// Draws a ledger as one flow picture on wide screens: from where, through the tank, to where.
import { each } from "./app.js";

const SVG = "http://www.w3.org/2000/svg";
const WIDE = matchMedia("(min-width: 48rem)");

function node(name, at, within) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(at)) made.setAttribute(key, value);
  within.append(made);
  return made;
}

function graph(flows) {
  const nodes = [{ name: "The tank" }], links = [];
  for (const item of flows.left) {
    nodes.push({ name: item.name, side: "left", store: item.from === "store" });
    links.push({ source: nodes.length - 1, target: 0, value: item.amount, store: item.from === "store" });
  }
  for (const item of flows.right) {
    nodes.push({ name: item.name, side: "right", store: item.to === "store" });
    links.push({ source: 0, target: nodes.length - 1, value: item.amount, store: item.to === "store" });
  }
  return { nodes, links };
}

function short(v) {
  return v >= 100 ? v.toFixed(0) : v.toPrecision(2);
}

function draw(place, flows) {
  place.querySelector("svg")?.remove();
  place.hidden = !WIDE.matches || flows.most <= 0;
  if (place.hidden) return;
  const width = Math.min(place.clientWidth, 900), height = 60 + 46 * Math.max(flows.left.length, flows.right.length);
  const side = 190;
  const layout = d3.sankey().nodeWidth(12).nodePadding(22).extent([[side, 16], [width - side, height - 16]]);
  const { nodes, links } = layout(graph(flows));
  const svg = node("svg", { viewBox: `0 0 ${width} ${height}`, width, height, "aria-hidden": "true" }, place);
  for (const link of links) {
    node("path", { d: d3.sankeyLinkHorizontal()(link), "stroke-width": Math.max(1, link.width), class: link.store ? "flow-link store" : "flow-link" }, svg);
  }
  for (const n of nodes) {
    node("rect", { x: n.x0, y: n.y0, width: n.x1 - n.x0, height: Math.max(2, n.y1 - n.y0), class: n.side ? "flow-node" : "flow-node tank" }, svg);
    const left = n.side === "left";
    const label = node("text", { x: n.side ? (left ? n.x0 - 8 : n.x1 + 8) : (n.x0 + n.x1) / 2, y: n.side ? (n.y0 + n.y1) / 2 + 4 : n.y0 - 5, "text-anchor": n.side ? (left ? "end" : "start") : "middle" }, svg);
    label.textContent = n.side ? `${n.name} ${short(n.value)} ${flows.unit}` : n.name;
  }
}

each("[data-flows]", (place) => {
  const flows = JSON.parse(place.querySelector("script").textContent);
  const again = () => draw(place, flows);
  place.hidden = false;
  again();
  WIDE.addEventListener("change", again);
});
