// Corners that are dragged or moved by arrow keys, and a brush that corrects the mask.
import { each } from "./app.js";

const SVG = "http://www.w3.org/2000/svg";
const NAMES = ["upper left", "upper right", "lower right", "lower left"];

function made(name, at, within) {
  const element = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(at)) element.setAttribute(key, value);
  within.append(element);
  return element;
}

each("[data-corners]", (sheet) => {
  const field = sheet.closest("form").elements.corners;
  const w = Number(sheet.dataset.width), h = Number(sheet.dataset.height), r = Math.max(w, h) / 16;
  const typed = field.value.split(";").map((p) => p.split(",").map(Number));
  const known = typed.length === 4 && typed.flat().every(Number.isFinite);
  const points = known ? typed : [[0, 0], [w, 0], [w, h], [0, h]];
  const svg = made("svg", { viewBox: `0 0 ${w} ${h}`, role: "group", "aria-label": "Corners of the water" }, sheet);
  const frame = made("polygon", {}, svg);
  const handles = points.map((_, i) => made("circle", { r, tabindex: 0, role: "button" }, svg));
  const show = () => {
    frame.setAttribute("points", points.map((p) => p.join(",")).join(" "));
    handles.forEach((handle, i) => {
      const [x, y] = points[i];
      handle.setAttribute("cx", x);
      handle.setAttribute("cy", y);
      handle.setAttribute("aria-label", `Corner ${NAMES[i]} at ${Math.round(x)}, ${Math.round(y)}. Arrow keys move it.`);
    });
  };
  const move = (i, x, y) => {
    points[i] = [Math.min(w, Math.max(0, Math.round(x))), Math.min(h, Math.max(0, Math.round(y)))];
    field.value = points.map((p) => p.join(",")).join(";");
    sheet.closest("form").elements.strokes.value = ""; // they were drawn over other corners
    show();
  };
  handles.forEach((handle, i) => {
    handle.addEventListener("keydown", (event) => {
      const step = event.shiftKey ? 25 : 5;
      const by = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] }[event.key];
      if (!by) return;
      event.preventDefault();
      move(i, points[i][0] + by[0], points[i][1] + by[1]);
    });
    handle.addEventListener("pointerdown", (event) => handle.setPointerCapture(event.pointerId));
    handle.addEventListener("pointermove", (event) => {
      if (!handle.hasPointerCapture(event.pointerId)) return;
      const box = svg.getBoundingClientRect();
      move(i, ((event.clientX - box.left) / box.width) * w, ((event.clientY - box.top) / box.height) * h);
    });
  });
  show();
});

each("[data-brush]", (figure) => {
  const form = figure.closest("form"), field = form.elements.strokes, picture = figure.querySelector("img");
  const w = picture.width && Number(picture.getAttribute("width")), h = Number(picture.getAttribute("height"));
  const tools = form.querySelector("[data-brushes]");
  const strokes = field.value ? JSON.parse(field.value) : [];
  const svg = made("svg", { viewBox: `0 0 ${w} ${h}`, "aria-hidden": "true" }, figure);
  let paint = null, line = null;
  const radius = Math.max(4, Math.round(Math.max(w, h) / 40));
  const keep = () => { field.value = strokes.length ? JSON.stringify(strokes) : ""; };
  const at = (event) => {
    const box = svg.getBoundingClientRect();
    return [Math.round(((event.clientX - box.left) / box.width) * w), Math.round(((event.clientY - box.top) / box.height) * h)];
  };
  tools.hidden = false;
  for (const button of tools.querySelectorAll("[data-paint]")) {
    button.addEventListener("click", () => {
      const chosen = button.getAttribute("aria-pressed") === "true";
      for (const other of tools.querySelectorAll("[data-paint]")) other.setAttribute("aria-pressed", "false");
      button.setAttribute("aria-pressed", String(!chosen));
      paint = chosen ? null : button.dataset.paint === "true";
      figure.classList.toggle("drawing", paint !== null);
    });
  }
  tools.querySelector("[data-clear]").addEventListener("click", () => {
    strokes.length = 0;
    svg.replaceChildren();
    keep();
  });
  svg.addEventListener("pointerdown", (event) => {
    if (paint === null) return;
    svg.setPointerCapture(event.pointerId);
    strokes.push({ points: [at(event)], radius, paint });
    line = made("polyline", { class: paint ? "painted" : "erased", "stroke-width": 2 * radius, points: at(event).join(",") }, svg);
    keep();
  });
  svg.addEventListener("pointermove", (event) => {
    if (!line || !svg.hasPointerCapture(event.pointerId)) return;
    strokes.at(-1).points.push(at(event));
    line.setAttribute("points", strokes.at(-1).points.map((p) => p.join(",")).join(" "));
    keep();
  });
  svg.addEventListener("pointerup", () => { line = null; });
});
