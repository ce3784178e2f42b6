// Forms of the quick log read as rows of entries, by the same rules as the server's own
// reading of a form that is sent without script.

// A UUID without crypto.randomUUID, which plain HTTP on a home network does not have.
export function newId() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((b) => b.toString(16).padStart(2, "0")).join("");
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})/, "$1-$2-$3-$4-");
}

const PLAIN = ["kind", "what", "unit", "method", "note"];

// A number as it was typed, with comma or point; empty stays empty.
export function number(text) {
  const found = (text ?? "").trim().replace(",", ".");
  if (found && !/^[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?$/.test(found)) throw new Error(`"${found}" is not a number`);
  return found === "" ? null : Number(found);
}

const tidy = (value) => Number(value.toPrecision(12));

function amount(group) {
  if (group.preset) {
    const parts = group.preset.split("|");
    const [low, high, unit] = parts.slice(-3);
    return { what: parts.slice(0, -3).join("|"), low: number(low), high: number(high), unit };
  }
  if (group.pair) {
    const [low, high] = group.pair.split("|");
    return { low: number(low), high: number(high) };
  }
  if (group.gross?.trim()) {
    const container = number(group.container) ?? 0;
    const net = tidy(number(group.gross) - container);
    if (net < 0) throw new Error("The container weighs more than all of it");
    const method = `${(group.method ?? "").trim()}, container ${container} ${group.unit ?? ""}`;
    return { low: net, high: net, method: method.replace(/^[ ,]+|[ ,]+$/g, "") };
  }
  if (group.value?.trim()) {
    const value = number(group.value), half = number(group.half) ?? 0;
    if (!half) return { low: value, high: value };
    const least = number(group.least) ?? -1e9, most = number(group.most) ?? 1e9;
    const inside = least <= value && value <= most;
    const [low, high] = inside ? [Math.max(value - half, least), Math.min(value + half, most)] : [value - half, value + half];
    return { low: tidy(low), high: tidy(high) };
  }
  if (group.amount?.trim()) {
    const value = tidy(number(group.amount) * (number(group.times) ?? 1));
    return { low: value, high: value };
  }
  return null;
}

// When it happened: rack-local text as chosen, or this moment.
function time(group, shared) {
  const when = shared.when ?? "";
  const text = when === "other" ? (shared.at_other ?? "") : when;
  if (when === "other" && !text) throw new Error("Say when it was");
  const minutes = Number(group.minutes ?? 0) * 60000;
  if (!text) return new Date(Date.now() + minutes).toISOString().replace(/\.\d+Z$/, "Z");
  if (!minutes || /[Z+]/.test(text)) return text;
  return new Date(Date.parse(`${text}Z`) + minutes).toISOString().slice(0, 16);
}

// Gives the rows of a form's fields (pairs of name and value), as the columns of entries;
// `labels` names each for the line that says what was saved.
export function rowsOf(fields, person) {
  const groups = new Map();
  for (const [key, value] of fields) {
    const [name, group = ""] = key.split(".");
    if (!groups.has(group)) groups.set(group, {});
    groups.get(group)[name] = value;
  }
  const shared = groups.get("") ?? {};
  const rows = [], labels = [];
  for (const group of groups.values()) {
    if (!("kind" in group)) continue;
    const found = amount(group);
    if (!found && !group.bare) continue;
    const row = { id: group.entry_id, at: time(group, shared), tank: group.scope === "rack" ? "" : group.tank ?? shared.tank ?? "" };
    for (const name of PLAIN) row[name] = (group[name] ?? "").trim();
    if (!found) row.unit = "";
    Object.assign(row, { low: null, high: null, by: person }, found);
    rows.push(row);
    labels.push(group.label ?? "");
  }
  if (!rows.length) throw new Error("Nothing was filled in");
  return { rows, labels };
}

const SHOWN = { "uS/cm": "µS/cm", C: "°C", degC: "°C", degF: "°F", dH: "°dH", "umol/m2/s": "µmol/m²/s" };

// Says a row's amount: an interval, an open end in words, or one number.
export function amountText(row) {
  const unit = SHOWN[row.unit] ?? row.unit;
  if (row.low === null && row.high === null) return "";
  if (row.low === null) return `below ${row.high} ${unit}`.trim();
  if (row.high === null) return `above ${row.low} ${unit}`.trim();
  return `${row.low === row.high ? row.low : `${row.low} to ${row.high}`} ${unit}`.trim();
}
