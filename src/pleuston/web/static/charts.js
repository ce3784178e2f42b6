// Draws the fan of an outlook with uPlot: bands, readings as bars, limits as lines.
import { each } from "./app.js";
import { css, faded, reach, value } from "./drawing.js";

const BANDS = [["p97.5", "p02.5", 14], ["p90", "p10", 24], ["p75", "p25", 38]];

function columns(data) {
  const past = data.readings.map((r) => r[0]);
  const all = [...new Set([...past, ...data.t])].sort((a, b) => a - b);
  const at = new Map(data.t.map((t, i) => [t, i]));
  const names = ["p97.5", "p90", "p75", "p50", "p25", "p10", "p02.5"];
  return [all, ...names.map((n) => all.map((t) => (at.has(t) ? data.bands[n][at.get(t)] : null)))];
}

function endsOf(data) {
  const known = [...data.bands["p02.5"], ...data.bands["p97.5"]];
  for (const [, low, high] of data.readings) known.push(low ?? high, high ?? low);
  return reach(known, data.limits);
}

function drawReadings(plot, data, ends) {
  const { ctx } = plot;
  const [bottom, top] = ends;
  ctx.save();
  ctx.strokeStyle = css("--ink");
  ctx.lineWidth = 2.2 * devicePixelRatio;
  ctx.lineCap = "round";
  for (const [t, low, high] of data.readings) {
    const x = plot.valToPos(t, "x", true);
    if (x < plot.bbox.left || x > plot.bbox.left + plot.bbox.width) continue;
    const y0 = plot.valToPos(low ?? bottom, "y", true), y1 = plot.valToPos(high ?? top, "y", true);
    const tall = Math.abs(y0 - y1) < 4 * devicePixelRatio ? 2 * devicePixelRatio : 0;
    ctx.setLineDash(low == null || high == null ? [3 * devicePixelRatio, 4 * devicePixelRatio] : []);
    ctx.beginPath();
    ctx.moveTo(x, y0 + tall);
    ctx.lineTo(x, y1 - tall);
    ctx.stroke();
  }
  ctx.restore();
}

function drawLimits(plot, data) {
  const { ctx } = plot, size = devicePixelRatio;
  const dashes = { watch: [2, 4], act: [7, 4], danger: [] };
  ctx.save();
  ctx.font = `${11 * size}px system-ui, sans-serif`;
  ctx.textAlign = "right";
  for (const limit of data.limits) {
    const y = plot.valToPos(limit.value, "y", true);
    if (y < plot.bbox.top || y > plot.bbox.top + plot.bbox.height) continue;
    ctx.strokeStyle = ctx.fillStyle = css(`--${limit.severity}`);
    ctx.lineWidth = 1.3 * size;
    ctx.setLineDash(dashes[limit.severity].map((d) => d * size));
    ctx.beginPath();
    ctx.moveTo(plot.bbox.left, y);
    ctx.lineTo(plot.bbox.left + plot.bbox.width, y);
    ctx.stroke();
    const low = y - plot.bbox.top < 16 * size;
    ctx.textBaseline = low ? "top" : "bottom";
    const right = plot.bbox.left + plot.bbox.width - 4 * size, up = low ? y + 3 * size : y - 3 * size;
    ctx.setLineDash([]);
    ctx.save();
    ctx.strokeStyle = css("--paper");
    ctx.lineWidth = 3 * size;
    ctx.strokeText(limit.word, right, up);
    ctx.restore();
    ctx.fillText(limit.word, right, up);
  }
  ctx.restore();
}

function drawNights(plot, data) {
  const { ctx } = plot;
  ctx.save();
  ctx.fillStyle = faded(css("--ink"), 7);
  for (const [from, to] of data.nights ?? []) {
    const a = Math.max(plot.valToPos(from, "x", true), plot.bbox.left);
    const b = Math.min(plot.valToPos(to, "x", true), plot.bbox.left + plot.bbox.width);
    if (b > a) ctx.fillRect(a, plot.bbox.top, b - a, plot.bbox.height);
  }
  ctx.restore();
}

// Dates on the rack's own clock, days as numbers and months as words.
const clock = (zone, form) => new Intl.DateTimeFormat("en-GB", { timeZone: zone, ...form });

function dates(zone) {
  const day = clock(zone, { day: "numeric", month: "short" }), hour = clock(zone, { weekday: "short", hour: "2-digit" });
  return (_, all, __, ___, step) => all.map((t) => (step < 86400 ? hour : day).format(new Date(t * 1000)));
}

// What the cursor points at, in words.
function reader(place, data, zone) {
  const line = place.querySelector("[data-read]");
  const far = data.t.at(-1) - data.t[0] > 5 * 86400;
  const when = clock(zone, far ? { weekday: "short", day: "numeric", month: "short" } : { weekday: "short", hour: "2-digit", minute: "2-digit" });
  const at = new Map(data.t.map((t, i) => [t, i]));
  return (plot) => {
    const t = plot.data[0][plot.cursor.idx], i = at.get(t), b = data.bands;
    if (i === undefined) {
      const read = data.readings.find((r) => r[0] === t);
      line.textContent = read ? `${when.format(new Date(t * 1000))}: read ${value(read[1]) || "below"} to ${value(read[2]) || "above"} ${data.unit}` : "";
      return;
    }
    line.textContent = `${when.format(new Date(t * 1000))}: ${value(b.p10[i])} to ${value(b.p90[i])} ${data.unit} (80 %), middle ${value(b.p50[i])}, 95 % within ${value(b["p02.5"][i])} to ${value(b["p97.5"][i])}`;
  };
}

function axes(zone) {
  const look = { stroke: css("--quiet"), grid: { stroke: css("--line"), width: 1 }, ticks: { show: false }, font: "12px system-ui, sans-serif" };
  return [{ ...look, grid: { show: false }, space: 62, values: dates(zone) }, { ...look, size: 48, values: (_, all) => all.map(value) }];
}

function options(place, data, width, ends) {
  const zone = place.dataset.zone;
  const leaf = css("--leaf");
  const line = (label, w) => ({ label, stroke: w ? leaf : faded(leaf, 75), width: w || 0.8, points: { show: false }, value: (_, v) => value(v) });
  const series = [{ label: "when" }, line("97.5 %"), line("90 %"), line("75 %"), line("middle", 2), line("25 %"), line("10 %"), line("2.5 %")];
  const order = ["p97.5", "p90", "p75", "p50", "p25", "p10", "p02.5"];
  return {
    width, height: Math.round(Math.min(340, Math.max(220, width * 0.55))), series,
    bands: BANDS.map(([high, low, share]) => ({ series: [order.indexOf(high) + 1, order.indexOf(low) + 1], fill: faded(leaf, share) })),
    scales: { y: { range: () => ends } }, axes: axes(zone), legend: { show: false },
    tzDate: (t) => uPlot.tzDate(new Date(t * 1000), zone),
    cursor: { drag: { x: true, y: false }, points: { show: false } },
    hooks: { drawClear: [(p) => drawNights(p, data)], draw: [(p) => drawLimits(p, data), (p) => drawReadings(p, data, ends)], setCursor: [reader(place, data, zone)] },
  };
}

function zoom(plot, share) {
  const { min, max } = plot.scales.x;
  const all = plot.data[0];
  const middle = (min + max) / 2, half = ((max - min) / 2) * share;
  plot.setScale("x", { min: Math.max(all[0], middle - half), max: Math.min(all.at(-1), middle + half) });
}

function chart(place) {
  const data = JSON.parse(place.querySelector("script").textContent);
  const canvas = place.querySelector("[data-canvas]");
  const ends = endsOf(data);
  const make = () => new uPlot(options(place, data, canvas.clientWidth, ends), columns(data), canvas);
  let plot = make();
  const again = () => {
    plot.destroy();
    plot = make();
  };
  new ResizeObserver(() => {
    if (Math.abs(canvas.clientWidth - plot.width) > 2) again();
  }).observe(canvas);
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", again);
  for (const button of place.querySelectorAll("[data-zoom]")) {
    button.hidden = false;
    button.addEventListener("click", () => {
      if (button.dataset.zoom === "all") plot.setScale("x", { min: plot.data[0][0], max: plot.data[0].at(-1) });
      else zoom(plot, Number(button.dataset.zoom));
    });
  }
}

each("[data-chart]", chart);
