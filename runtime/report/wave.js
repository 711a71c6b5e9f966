// The courses of the rails: trees of sampled stretches, of bands of which the least and the greatest values are known, and
// of passes that are alike, as runtime/waveform/waveform.h holds them. Passes are never written out: a time within one is
// found by arithmetic.

const QUANTITIES = 6;
const SETPOINT = 0, LIMIT = 1, TERMINAL = 2, LOAD = 3, CURRENT = 4, POWER = 5;

function emptyRange() {
  return {low: new Array(QUANTITIES).fill(Infinity), high: new Array(QUANTITIES).fill(-Infinity), limited: false};
}

function include(range, low, high) {
  for (let q = 0; q < QUANTITIES; ++q) {
    if (low[q] < range.low[q]) range.low[q] = low[q];
    if (high[q] > range.high[q]) range.high[q] = high[q];
  }
}

const DIGITS = 'ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/';
const VALUE_OF = new Uint8Array(128);
for (let i = 0; i < DIGITS.length; ++i) VALUE_OF[DIGITS.charCodeAt(i)] = i;

// The numbers in a text, as runtime/report/packed_numbers.h writes them.
function unpacked(text) {
  const numbers = [];
  let value = 0, place = 1;
  for (let i = 0; i < text.length; ++i) {
    const group = VALUE_OF[text.charCodeAt(i)];
    value += (group & 31) * place;
    place *= 32;
    if (group & 32) continue;
    numbers.push(value % 2 === 1 ? -(value + 1) / 2 : value / 2);
    value = 0;
    place = 1;
  }
  return numbers;
}

function decodeStretch([begin, length, statement, limited, text], quantum) {
  const packed = unpacked(text);
  const count = packed.length / (QUANTITIES + 1);
  const node = {begin, length, statement, limited: limited === 1, count, times: new Float64Array(count), values: []};
  const sums = new Array(QUANTITIES + 1).fill(0);
  for (let i = 0; i < count; ++i) {
    for (let k = 0; k <= QUANTITIES; ++k) sums[k] += packed[i * (QUANTITIES + 1) + k];
    node.times[i] = sums[0] * 1e-9;
    node.values.push(quantum.map((size, q) => sums[q + 1] * size));
  }
  const range = emptyRange();
  for (const values of node.values) include(range, values, values);
  return Object.assign(node, {low: range.low, high: range.high});
}

// Of a band the least and the greatest are known, and within what the course is nearly all of the time: twice its standard
// deviation around its mean.
function decodeBand([begin, length, statement, limited, text], quantum) {
  const {values} = decodeStretch([begin, length, statement, limited, text], quantum);
  const [low, high, mean, deviation] = values;
  const usualLow = low.map((value, q) => Math.max(value, mean[q] - 2 * deviation[q]));
  const usualHigh = high.map((value, q) => Math.min(value, mean[q] + 2 * deviation[q]));
  return {begin, length, statement, limited: limited === 1, band: true, count: Infinity, low, high, usualLow, usualHigh};
}

function decodeNodes(list, quantum) {
  return list.map((item) => {
    if (item[5] === 'band') return decodeBand(item, quantum);
    if (item[5] !== 'passes') return decodeStretch(item, quantum);
    const [begin, length, passes, period, inner] = item;
    const body = decodeNodes(inner, quantum);
    const range = emptyRange();
    for (const node of body) include(range, node.low, node.high);
    const count = passes * body.reduce((sum, node) => sum + node.count, 0);
    const limited = body.some((node) => node.limited);
    return {begin, length, passes, period, body, count, limited, low: range.low, high: range.high};
  });
}

function passAt(node, time) {
  return Math.min(Math.max(Math.floor(time / node.period), 0), node.passes - 1);
}

// The place of the last node that begins at or before `time`.
function nodeIndex(nodes, time) {
  let low = 0, high = nodes.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (nodes[middle].begin <= time) low = middle + 1; else high = middle;
  }
  return Math.max(low - 1, 0);
}

// Calls `visit(stretch, base)` for the stretches between two times, in order; `base` is where the stretch begins. Passes
// that lie wholly within go to `whole(node)` once instead, where that is given.
function walk(nodes, base, from, to, visit, whole) {
  for (let i = nodeIndex(nodes, from - base); i < nodes.length && base + nodes[i].begin <= to; ++i) {
    const node = nodes[i], begin = base + node.begin;
    if (begin + node.length < from) continue;
    if (whole && from <= begin && begin + node.length <= to) {
      whole(node);
    } else if (!node.body) {
      visit(node, begin);
    } else {
      const first = passAt(node, from - begin), last = passAt(node, to - begin);
      if (whole && last - first > 1) node.body.forEach(whole);
      const jump = whole ? Math.max(last - first, 1) : 1;
      for (let pass = first; pass <= last; pass += jump) walk(node.body, begin + pass * node.period, from, to, visit, whole);
    }
  }
}

function interpolate(stretch, time) {
  const times = stretch.times;
  let low = 0, high = times.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (times[middle] <= time) low = middle + 1; else high = middle;
  }
  if (low === 0) return stretch.values[0];
  if (low === times.length) return stretch.values[low - 1];
  const share = (time - times[low - 1]) / (times[low] - times[low - 1]);
  return stretch.values[low].map((value, q) => stretch.values[low - 1][q] + share * (value - stretch.values[low - 1][q]));
}

// The stretch at a time and the values there; at a jump those after it. In a band the values are null.
function valuesAt(rail, time) {
  let nodes = rail.nodes;
  while (nodes.length > 0) {
    const node = nodes[nodeIndex(nodes, time)];
    time -= node.begin;
    if (!node.body) return {stretch: node, values: node.band ? null : interpolate(node, time)};
    time -= passAt(node, time) * node.period;
    nodes = node.body;
  }
  return null;
}

// When the line that a rail plays at a time was begun, in the pass that holds it.
function beganAt(rail, time) {
  let nodes = rail.nodes, base = 0;
  while (nodes.length > 0) {
    let index = nodeIndex(nodes, time - base);
    const node = nodes[index];
    if (node.body) {
      base += node.begin + passAt(node, time - base - node.begin) * node.period;
      nodes = node.body;
      continue;
    }
    while (index > 0 && nodes[index - 1].statement === node.statement) --index;
    return base + nodes[index].begin;
  }
  return 0;
}

// What the quantities keep within between two times. With `isColumn`, a part of a band without its middle shows what is
// usual in it: one short peak is a line there and no box.
function rangeIn(rail, from, to, isColumn = false) {
  const range = emptyRange();
  walk(rail.nodes, 0, from, to, (stretch, begin) => {
    const a = Math.max(from - begin, 0), b = Math.min(to - begin, stretch.length);
    if (stretch.limited && a < b) range.limited = true;
    if (stretch.band) {
      const middle = begin + stretch.length / 2, isWhole = !isColumn || (from <= middle && middle < to);
      include(range, isWhole ? stretch.low : stretch.usualLow, isWhole ? stretch.high : stretch.usualHigh);
      return;
    }
    for (const time of [a, b]) {
      const values = interpolate(stretch, time);
      include(range, values, values);
    }
    for (let i = 0; i < stretch.count; ++i) {
      if (stretch.times[i] >= a && stretch.times[i] <= b) include(range, stretch.values[i], stretch.values[i]);
    }
  }, (node) => {
    include(range, node.low, node.high);
    range.limited = range.limited || node.limited;
  });
  return range;
}

// The length of the longest band in a window, 0 for none.
function longestBand(rail, from, to) {
  let longest = 0;
  const note = (node) => {
    if (node.band) longest = Math.max(longest, node.length);
    if (node.body) node.body.forEach(note);
  };
  walk(rail.nodes, 0, from, to, note, note);
  return longest;
}

function countIn(rail, from, to) {
  let count = 0;
  const add = (nodes, base) => {
    for (let i = nodeIndex(nodes, from - base); i < nodes.length && base + nodes[i].begin <= to; ++i) {
      const node = nodes[i], begin = base + node.begin;
      const share = Math.min(to, begin + node.length) - Math.max(from, begin);
      if (node.body) {
        const first = passAt(node, from - begin), last = passAt(node, to - begin);
        if (last - first < 3) for (let pass = first; pass <= last; ++pass) add(node.body, begin + pass * node.period);
        else count += node.count / node.passes * (last - first);
      } else if (share >= 0) {
        count += node.length > 0 && !node.band ? samplesBetween(node, from - begin, to - begin) : node.count;
      }
    }
  };
  add(rail.nodes, 0);
  return count;
}

function samplesBetween(stretch, from, to) {
  let count = 2;
  for (const time of stretch.times) if (time > from && time < to) ++count;
  return count;
}

// Rows of [time, values…] for a window: the samples themselves where they fit and there are no bands, else for each of so
// many columns the least and the greatest.
function rowsIn(rail, from, to, columns) {
  return countIn(rail, from, to) <= 12 * columns ? sampleRows(rail, from, to) : envelopeRows(rail, from, to, columns);
}

function sampleRows(rail, from, to) {
  const rows = [];
  walk(rail.nodes, 0, from, to, (stretch, begin) => {
    const a = Math.max(from - begin, 0), b = Math.min(to - begin, stretch.length);
    if (a > b) return;
    rows.push([begin + a, ...interpolate(stretch, a)]);
    for (let i = 0; i < stretch.count; ++i) {
      if (stretch.times[i] > a && stretch.times[i] < b) rows.push([begin + stretch.times[i], ...stretch.values[i]]);
    }
    // At the end of a stretch the value before a jump, not the one after.
    rows.push([begin + b, ...(b >= stretch.length ? stretch.values[stretch.count - 1] : interpolate(stretch, b))]);
  });
  return {rows, envelope: false};
}

function envelopeRows(rail, from, to, columns) {
  const rows = [], step = (to - from) / columns;
  for (let column = 0; column < columns; ++column) {
    const begin = from + column * step, range = rangeIn(rail, begin, begin + step, true);
    if (range.low[0] === Infinity) continue;
    rows.push([begin, ...range.low], [begin + step / 2, ...range.high]);
  }
  return {rows, envelope: true};
}

// The times between two others at which happens what happened at `time`, passes included; at most `most`, from the last
// one down where `backwards`.
function timesOf(nodes, base, time, from, to, most, backwards, found) {
  if (nodes.length === 0) return found;
  const node = nodes[nodeIndex(nodes, time)], begin = base + node.begin;
  if (!node.body || time > node.begin + node.period) {
    const at = base + time;
    if (at >= from && at <= to && found.length < most) found.push(at);
    return found;
  }
  const first = passAt(node, from - begin), last = passAt(node, to - begin);
  for (let i = 0; i <= last - first && found.length < most; ++i) {
    const pass = backwards ? last - i : first + i;
    timesOf(node.body, begin + pass * node.period, time - node.begin, from, to, most, backwards, found);
  }
  return found;
}

// Readings of a rail: of each quantity the times, how long each takes, and the least and the greatest value. NaN where there
// is none. As runtime/report/chart_data.cpp packs them.
const MEASURED = [['voltage', TERMINAL, 'V', 1], ['current', CURRENT, 'A', 2], ['power', POWER, 'W', 4]];

function decodeMeasured(text, quantum) {
  const packed = unpacked(text), times = [], widths = [], parts = MEASURED.map(() => ({low: [], high: []}));
  let at = 0, time = 0;
  while (at < packed.length) {
    const mask = packed[at++];
    time += packed[at++];
    times.push(time * 1e-9);
    widths.push(packed[at++] * 1e-9);
    MEASURED.forEach(([, quantity, , bit], part) => {
      const low = mask & bit ? packed[at++] : NaN, high = mask & bit ? low + packed[at++] : NaN;
      parts[part].low.push(low * quantum[quantity]);
      parts[part].high.push(high * quantum[quantity]);
    });
  }
  const measured = {};
  MEASURED.forEach(([name], part) => { measured[name] = {times, widths, ...parts[part]}; });
  return measured;
}

function firstAtOrAfter(times, time) {
  let low = 0, high = times.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (times[middle] < time) low = middle + 1; else high = middle;
  }
  return low;
}

// The least and the greatest reading between two times.
function measuredRange({times, low, high}, from, to) {
  let least = Infinity, greatest = -Infinity;
  for (let i = firstAtOrAfter(times, from); i < times.length && times[i] <= to; ++i) {
    if (low[i] < least) least = low[i];
    if (high[i] > greatest) greatest = high[i];
  }
  return [least, greatest];
}

// The reading that is nearest to a time, as [least, greatest, unit] of each quantity; null where there is none.
function measuredAt(measured, time) {
  const {times, widths} = measured.voltage;
  if (times.length === 0) return null;
  const after = Math.min(firstAtOrAfter(times, time), times.length - 1), before = Math.max(after - 1, 0);
  const nearest = Math.abs(times[after] - time) < Math.abs(times[before] + widths[before] - time) ? after : before;
  const values = MEASURED.map(([name, , unit]) => [measured[name].low[nearest], measured[name].high[nearest], unit]);
  const known = values.filter(([low]) => !Number.isNaN(low));
  return known.length > 0 ? known : null;
}
