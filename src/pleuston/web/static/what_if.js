// Draws plans on the same axes: a line and a band each, told apart by dash and name.
import { each } from "./app.js";
import { css, faded, reach, value } from "./drawing.js";

const COLOURS = ["--ink", "--leaf", "--water", "--act", "--danger"];
const DASHES = [[], [9, 4], [2, 4], [9, 4, 2, 4], [16, 5]];

function write(ctx, text, x, y, colour) {
  ctx.setLineDash([]);
  ctx.strokeStyle = css("--paper");
  ctx.lineWidth = 3 * devicePixelRatio;
  ctx.strokeText(text, x, y);
  ctx.fillStyle = colour;
  ctx.fillText(text, x, y);
}

function drawLimits(plot, data) {
  const { ctx } = plot, size = devicePixelRatio;
  ctx.save();
  ctx.font = `${11 * size}px system-ui, sans-serif`;
  ctx.textAlign = "left";
  ctx.textBaseline = "bottom";
  for (const limit of data.limits) {
    const y = plot.valToPos(limit.value, "y", true);
    if (y < plot.bbox.top || y > plot.bbox.top + plot.bbox.height) continue;
    ctx.strokeStyle = css(`--${limit.severity}`);
    ctx.lineWidth = size;
    ctx.setLineDash([]);
    ctx.beginPath();
    ctx.moveTo(plot.bbox.left, y);
    ctx.lineTo(plot.bbox.left + plot.bbox.width, y);
    ctx.stroke();
    write(ctx, limit.word, plot.bbox.left + 4 * size, y - 2 * size, css(`--${limit.severity}`));
  }
  ctx.restore();
}

// The name of each plan at the end of its line, kept apart from the others.
function drawNames(plot, data) {
  const { ctx } = plot, size = devicePixelRatio, tall = 13 * size;
  const { left, top, width, height } = plot.bbox;
  const ends = data.plans.map((p, i) => ({ name: p.name, i, y: plot.valToPos(p.p50.at(-1), "y", true) }));
  ends.sort((a, b) => a.y - b.y);
  let above = top;
  for (const end of ends) above = end.y = Math.max(end.y, above + tall);
  const over = Math.max(0, above - top - height + 2 * size);
  ctx.save();
  ctx.font = `600 ${11 * size}px system-ui, sans-serif`;
  ctx.textAlign = "right";
  ctx.textBaseline = "bottom";
  for (const end of ends) write(ctx, end.name, left + width - 4 * size, end.y - over, css(COLOURS[end.i]));
  ctx.restore();
}

function options(place, data, width, ends) {
  const zone = place.dataset.zone;
  const day = new Intl.DateTimeFormat("en-GB", { timeZone: zone, day: "numeric", month: "short" });
  const look = { stroke: css("--quiet"), grid: { stroke: css("--line"), width: 1 }, ticks: { show: false }, font: "12px system-ui, sans-serif" };
  const series = [{ label: "when" }], bands = [];
  data.plans.forEach((plan, i) => {
    const colour = css(COLOURS[i]), edge = { stroke: faded(colour, 30), width: 0.6, points: { show: false } };
    series.push({ ...edge, label: `${plan.name} 90 %` }, { ...edge, label: `${plan.name} 10 %` });
    series.push({ label: plan.name, stroke: colour, width: 2, dash: DASHES[i], points: { show: false } });
    bands.push({ series: [3 * i + 1, 3 * i + 2], fill: faded(colour, 9) });
  });
  const line = place.querySelector("[data-read]");
  const read = (plot) => {
    const i = plot.cursor.idx;
    line.textContent = i == null ? "" : `${day.format(new Date(data.t[i] * 1000))}: ${data.plans.map((p) => `${p.name} ${value(p.p50[i])}`).join("; ")}`;
  };
  return {
    width, height: Math.round(Math.min(340, Math.max(230, width * 0.55))), series, bands,
    scales: { y: { range: () => ends } }, legend: { show: false },
    axes: [
      { ...look, grid: { show: false }, space: 62, values: (_, all) => all.map((t) => day.format(new Date(t * 1000))) },
      { ...look, size: 48, values: (_, all) => all.map(value) },
    ],
    tzDate: (t) => uPlot.tzDate(new Date(t * 1000), zone),
    cursor: { drag: { x: true, y: false }, points: { show: false } },
    hooks: { draw: [(p) => drawLimits(p, data), (p) => drawNames(p, data)], setCursor: [read] },
  };
}

each("[data-plans]", (place) => {
  const data = JSON.parse(place.querySelector("script").textContent);
  const canvas = place.querySelector("[data-canvas]");
  const ends = reach(data.plans.flatMap((p) => [...p.p10, ...p.p90]), data.limits);
  const columns = [data.t, ...data.plans.flatMap((p) => [p.p90, p.p10, p.p50])];
  const make = () => new uPlot(options(place, data, canvas.clientWidth, ends), columns, canvas);
  let plot = make();
  const again = () => {
    plot.destroy();
    plot = make();
  };
  new ResizeObserver(() => {
    if (Math.abs(canvas.clientWidth - plot.width) > 2) again();
  }).observe(canvas);
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", again);
});
