// Numbers and times as the rest of the report writes them.

const PREFIXES = [[1e6, 'M'], [1e3, 'k'], [1, ''], [1e-3, 'm'], [1e-6, 'u'], [1e-9, 'n'], [1e-12, 'p']];

function significant(value, digits) {
  return String(Number(value.toPrecision(digits)));
}

function si(value, unit, digits = 4) {
  const size = Math.abs(value);
  if (size < 1e-12) return '0 ' + unit;
  const [factor, prefix] = PREFIXES.find(([limit]) => size >= limit * 0.9999999) || PREFIXES[PREFIXES.length - 1];
  return significant(value / factor, digits).replace('-', '−') + ' ' + prefix + unit;
}

// To the last decimal that an error leaves known.
function toError(value, error) {
  const step = Math.pow(10, Math.floor(Math.log10(error) + 1e-9));
  return Math.round(value / step) * step;
}

function siRange(low, high, unit) {
  const from = si(low, unit), to = si(high, unit);
  return from === to ? from : from + ' to ' + to;
}

// A time to about `step` seconds: "1.25 s", "47 h 59 min 3.2 s".
function timeText(time, step) {
  const decimals = Math.min(Math.max(Math.ceil(-Math.log10(step) - 1e-9), 0), 9);
  const rounded = Number(time.toFixed(decimals));
  if (rounded < 60) return rounded < 1 && rounded > 0 ? si(rounded, 's', 6) : trimmed(rounded, decimals) + ' s';
  const hours = Math.floor(rounded / 3600), minutes = Math.floor(rounded / 60) - 60 * hours;
  const seconds = rounded - 3600 * hours - 60 * minutes;
  const parts = [];
  if (hours) parts.push(hours + ' h');
  if (minutes) parts.push(minutes + ' min');
  if (Number(seconds.toFixed(decimals)) > 0) parts.push(trimmed(seconds, decimals) + ' s');
  return parts.join(' ');
}

function trimmed(value, decimals) {
  return decimals > 0 ? value.toFixed(decimals).replace(/\.?0+$/, '') : value.toFixed(0);
}

const LONG_STEPS = [60, 120, 300, 600, 900, 1800, 3600, 7200, 10800, 21600, 43200, 86400, 172800, 604800];

// The least round step of which no more than `most` fit.
function roundStep(span, most) {
  const least = span / Math.max(most, 1);
  if (least > 30) return LONG_STEPS.find((step) => step >= least) || 604800 * Math.ceil(least / 604800);
  return decimalStep(least);
}

function decimalStep(least) {
  const decade = Math.pow(10, Math.floor(Math.log10(least)));
  for (const factor of [1, 2, 5]) if (factor * decade >= least * (1 - 1e-9)) return factor * decade;
  return 10 * decade;
}

// Ticks of a time axis: where its steps are small against the time itself, the first says the time and the others what
// comes on top.
function timeTicks(from, to, width) {
  const step = roundStep(to - from, Math.floor(width / 95));
  const ticks = [], first = Math.ceil(from / step - 1e-9);
  const relative = step < 1e-2 * from && step < 1;
  for (let i = first; i * step <= to + 1e-9 * step; ++i) {
    const rest = (i - first) * step;
    const label = relative && i > first ? '+' + si(rest, 's') : timeText(i * step, step);
    ticks.push({v: i * step, label});
  }
  return ticks;
}

function valueTicks(low, high, height, unit) {
  const step = decimalStep((high - low) / Math.max(Math.floor(height / 38), 2));
  const ticks = [];
  for (let i = Math.ceil(low / step); i * step <= high * (1 + 1e-12) + 1e-15; ++i) {
    ticks.push({v: i * step, label: si(Math.abs(i * step) < step / 2 ? 0 : i * step, unit)});
  }
  return ticks;
}
