// What charts share: the page's own colours, numbers as they are read, and the reach of an axis.

export const css = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();
export const faded = (colour, share) => `color-mix(in srgb, ${colour} ${share}%, transparent)`;

export function value(v) {
  if (v == null || !Number.isFinite(v)) return "";
  const size = Math.abs(v);
  return size >= 100 ? v.toFixed(0) : size >= 1 ? v.toPrecision(3) : v.toPrecision(2);
}

// The ends of an axis that holds what is known, and the limits that are near it.
export function reach(known, limits) {
  let low = Math.min(...known), high = Math.max(...known);
  const room = Math.max(high - low, 0.05 * Math.abs(high), 1e-6);
  for (const limit of limits) {
    if (limit.value > low - room && limit.value < high + room) {
      low = Math.min(low, limit.value);
      high = Math.max(high, limit.value);
    }
  }
  const down = low - 0.08 * room;
  return [low >= 0 && down < 0 ? 0 : down, high + 0.1 * room];
}
