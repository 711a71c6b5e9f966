// One plot: what it draws of its rail, and the lines and areas behind the courses.

const PLOTS = {
  voltage: {unit: 'V', series: [[SETPOINT, 'setpoint', [5, 4]], [LOAD, 'load', [2, 2]], [TERMINAL, 'terminals', null]]},
  current: {unit: 'A', series: [[LIMIT, 'limit', [5, 4]], [CURRENT, 'current', null]]},
  power: {unit: 'W', series: [[POWER, 'power', null]]},
};
const AXIS_WIDTH = 62;
const LABEL_FONT = '12px system-ui, sans-serif';
// What lies further than so many times the courses' height is told at the edge and not drawn.
const FAR = 2.5;
const STRIP = 4;  // pixels, for constant current

function colour(name) {
  return getComputedStyle(document.body).getPropertyValue(name).trim();
}

// Least and greatest by turns: the area between them. Of what a course is only compared with, the greatest alone.
function drawBand({points, drawingContext: context, color, strokeWidth}, greatestAlone) {
  const low = points.filter((_, i) => i % 2 === 0), high = points.filter((_, i) => i % 2 === 1);
  const trace = (line) => line.forEach((point, i) => context[i === 0 ? 'moveTo' : 'lineTo'](point.canvasx, point.canvasy));
  context.strokeStyle = context.fillStyle = color;
  context.lineWidth = strokeWidth;
  if (!greatestAlone) {
    context.globalAlpha = 0.22;
    context.beginPath();
    high.concat([...low].reverse()).forEach((point) => context.lineTo(point.canvasx, point.canvasy));
    context.fill();
    context.globalAlpha = 1;
  }
  for (const line of greatestAlone ? [high] : [low, high]) {
    context.beginPath();
    trace(line);
    context.stroke();
  }
}

class Plot {
  constructor(place, rail, index, simulated, excursions) {
    this.place = place;
    this.rail = rail;
    this.index = index;
    this.quantity = place.dataset.quantity;
    this.kind = PLOTS[this.quantity];
    this.series = simulated ? this.kind.series : this.kind.series.slice(0, 1);
    this.thresholds = rail.thresholds.filter((line) => line.on === this.quantity);
    this.excursions = excursions.filter((one) => one.rail === index && one.on === this.quantity);
    this.measured = rail.measured ? rail.measured[this.quantity] : null;
    this.hasTimes = !simulated || this.quantity === 'power';
    this.whole = this.heights(rail.whole, true);
    this.shown = {rows: [], envelope: false, events: [], limited: []};
    this.chart = new Dygraph(place, [[0, ...this.series.map(() => 0)]], this.options());
    this.cursor = this.add('cursor');
    this.band = this.add('band');
  }

  add(kind) {
    const mark = document.createElement('div');
    mark.className = kind;
    mark.hidden = true;
    this.place.append(mark);
    return mark;
  }

  options() {
    const height = this.hasTimes ? this.place.clientHeight - 24 : this.place.clientHeight;
    return {
      labels: ['time', ...this.series.map(([, name]) => name)],
      legend: 'never', showLabelsOnHighlight: false, highlightCircleSize: 0, interactionModel: {},
      drawGapEdgePoints: false, axisLabelFontSize: 12, rightGap: 12, xRangePad: 0,
      valueRange: this.whole,
      axes: {
        x: {drawAxis: this.hasTimes, drawGrid: true, axisLabelWidth: 130, pixelsPerLabel: 95,
            ticker: (a, b) => timeTicks(a, b, this.place.clientWidth - AXIS_WIDTH)},
        y: {axisLabelWidth: AXIS_WIDTH, ticker: (a, b) => valueTicks(a, b, height, this.kind.unit)},
      },
      underlayCallback: (context, area, chart) => this.drawBehind(context, area, chart),
      ...this.looks(),
    };
  }

  looks() {
    const own = colour('--rail-' + (this.index % 5)), neutral = colour('--ink');
    const series = {};
    for (const [quantity, name, dashes] of this.series) {
      const neutralLine = quantity === SETPOINT || quantity === LIMIT;
      const line = this.shown && this.shown.envelope ? (drawing) => drawBand(drawing, neutralLine) : Dygraph.Plotters.linePlotter;
      series[name] = {plotter: neutralLine || quantity === LOAD ? line : (drawing) => {
        line(drawing);
        this.drawMeasured(drawing.drawingContext, drawing.plotArea, drawing.dygraph);
      },
                      color: neutralLine ? neutral : own, strokePattern: dashes,
                      strokeWidth: quantity === LOAD || neutralLine ? 1.2 : 1.8};
    }
    return {series, gridLineColor: colour('--grid'), axisLineColor: colour('--rule')};
  }

  // The vertical axis: the courses, 0, and the thresholds that are near.
  heights(range, withZero) {
    const quantities = this.series.map(([quantity]) => quantity);
    const main = quantities[quantities.length - 1];
    let low = range.low[main], high = range.high[main];
    const reach = Math.max(Math.abs(low), Math.abs(high)) * FAR;
    const take = (value) => { low = Math.min(low, value); high = Math.max(high, value); };
    for (const quantity of quantities) {
      if (withZero && Math.abs(range.high[quantity]) > reach && quantity === LIMIT) continue;
      take(range.low[quantity]);
      take(range.high[quantity]);
    }
    if (this.measured) {
      const [least, greatest] = measuredRange(this.measured, withZero ? -Infinity : this.shown.from, withZero ? Infinity : this.shown.to);
      if (least <= greatest) { take(least); take(greatest); }
    }
    if (withZero) {
      take(0);
      for (const line of this.thresholds) if (Math.abs(line.level) <= reach) take(line.level);
    }
    if (high - low < 1e-9 * Math.max(Math.abs(high), 1e-3)) { low -= 0.5; high += 0.5; }
    const room = 0.09 * (high - low);
    const above = this.quantity === 'voltage' ? 2 * room : room;  // for the words of events
    return [low === 0 && withZero ? -0.35 * room : low - room, high === 0 && withZero ? 0.35 * room : high + above];
  }

  draw(view, shown, fit) {
    this.shown = {...shown, from: view.from, to: view.to};
    const columns = this.series.map(([quantity]) => quantity + 1);
    const rows = shown.rows.map((row) => [row[0], ...columns.map((column) => row[column])]);
    const heights = fit ? this.heights(shown.range, false) : this.whole;
    this.chart.updateOptions({file: rows, dateWindow: [view.from, view.to], valueRange: heights, ...this.looks()});
  }

  drawBehind(context, area, chart) {
    if (!this.shown) return;
    context.save();
    context.font = LABEL_FONT;
    this.drawExcursions(context, area, chart);
    if (this.quantity === 'current') this.drawLimited(context, area, chart);
    this.drawThresholds(context, area, chart);
    this.drawEvents(context, area, chart);
    context.restore();
  }

  // Shaded, with a strip at the bottom and the number that the section of the run has for it.
  drawExcursions(context, area, chart) {
    for (const one of this.excursions) {
      const left = Math.max(chart.toDomXCoord(one.from), area.x), right = Math.min(chart.toDomXCoord(one.to), area.x + area.w);
      const width = Math.max(right - left, 3);
      if (left > area.x + area.w || right < area.x) continue;
      context.fillStyle = colour('--bad');
      context.globalAlpha = 0.14;
      context.fillRect(left, area.y, width, area.h);
      context.globalAlpha = 1;
      context.fillRect(left, area.y + area.h - STRIP, width, STRIP);
      this.write(context, one.words, left + 3, area.y + area.h - STRIP - 4);
    }
  }

  // A dot a reading; where they are too many for that, or each stands for several, a line from the least to the greatest.
  drawMeasured(context, area, chart) {
    if (!this.measured) return;
    const {times, widths, low, high} = this.measured, [from, to] = chart.xAxisRange();
    context.save();
    context.beginPath();
    context.rect(area.x, area.y, area.w, area.h);
    context.clip();
    context.fillStyle = colour('--ink');
    let column = null;
    const flush = () => {
      if (!column) return;
      const top = chart.toDomYCoord(column.high), bottom = chart.toDomYCoord(column.low);
      context.fillRect(column.x - 1, top - 1, 2, Math.max(bottom - top + 2, 2));
      column = null;
    };
    const first = firstAtOrAfter(times, from), end = firstAtOrAfter(times, to);
    const crowded = end - first > area.w / 3;
    for (let i = Math.max(first - 1, 0); i < times.length && times[i] <= to; ++i) {
      if (Number.isNaN(low[i])) continue;
      const x = Math.round(chart.toDomXCoord(times[i] + widths[i] / 2));
      if (!crowded && low[i] === high[i]) {
        context.beginPath();
        context.arc(x, chart.toDomYCoord(low[i]), 2, 0, 2 * Math.PI);
        context.fill();
      } else if (column && column.x === x) {
        column.low = Math.min(column.low, low[i]);
        column.high = Math.max(column.high, high[i]);
      } else {
        flush();
        column = {x, low: low[i], high: high[i]};
      }
    }
    flush();
    context.restore();
  }

  drawLimited(context, area, chart) {
    context.strokeStyle = colour('--hatch');
    context.lineWidth = 1;
    for (const [from, to] of this.shown.limited) {
      const left = Math.max(chart.toDomXCoord(from), area.x), right = Math.min(chart.toDomXCoord(to), area.x + area.w);
      const width = Math.max(right - left, 1.5);
      context.save();
      context.beginPath();
      context.rect(left, area.y, width, area.h);
      context.clip();
      context.beginPath();
      for (let x = left - area.h - (left % 7); x < left + width; x += 7) {
        context.moveTo(x, area.y + area.h);
        context.lineTo(x + area.h, area.y);
      }
      context.stroke();
      // A strip at the top that no course covers.
      context.fillStyle = colour('--ink');
      context.fillRect(left, area.y, width, STRIP);
      context.restore();
      if (width > 30) this.write(context, 'CC', left + 6, area.y + area.h / 2);
    }
  }

  // Each with its words on the line, further left than those before; what lies beyond the plot is told at its edge.
  drawThresholds(context, area, chart) {
    const [low, high] = chart.yAxisRange();
    let right = area.x + area.w - 6, beyond = area.y + area.h / 2;
    for (const line of [...this.thresholds, ...this.farLimit(high)]) {
      if (line.level > high || line.level < low) {
        this.write(context, (line.level > high ? '↑ ' : '↓ ') + line.words, area.x + area.w - 6, beyond, 'right');
        beyond += 15;
        continue;
      }
      const y = chart.toDomYCoord(line.level);
      context.strokeStyle = colour('--bad');
      context.lineWidth = 1.2;
      context.setLineDash([8, 3, 2, 3]);
      context.beginPath();
      context.moveTo(area.x, y);
      context.lineTo(area.x + area.w, y);
      context.stroke();
      context.setLineDash([]);
      this.write(context, line.words, right, y + 4, 'right');
      right -= context.measureText(line.words).width + 14;
    }
  }

  farLimit(high) {
    const limit = this.shown.range ? this.shown.range.high[LIMIT] : 0;
    return this.quantity === 'current' && limit > high ? [{level: limit, words: 'limit ' + si(limit, 'A')}] : [];
  }

  // A line each; words for as many as there is room for, trips first.
  drawEvents(context, area, chart) {
    const events = this.shown.events.filter((event) => event.rail === null || event.rail === this.index);
    for (const event of events) {
      const x = chart.toDomXCoord(event.at), important = event.kind === 'trip' || event.kind === 'fault';
      context.strokeStyle = colour(important ? '--bad' : '--rule');
      context.lineWidth = important ? 2 : 1;
      context.beginPath();
      context.moveTo(x, area.y);
      context.lineTo(x, area.y + area.h);
      context.stroke();
    }
    if (this.quantity !== 'voltage') return;
    const rank = (event) => ['trip', 'fault', 'mark'].indexOf(event.kind) & 3;
    const taken = [];
    for (const event of [...events].sort((a, b) => rank(a) - rank(b))) {
      this.writeBeside(context, event.words, chart.toDomXCoord(event.at), area, taken);
    }
  }

  // To the right of a line, or to its left, or not at all.
  writeBeside(context, any, x, area, taken) {
    const words = any.length > 40 ? any.slice(0, 39) + '…' : any;
    const width = context.measureText(words).width + 6;
    for (const left of [x + 4, x - width]) {
      if (left < area.x || left + width > area.x + area.w) continue;
      if (taken.some(([from, to]) => left < to && left + width > from)) continue;
      taken.push([left, left + width]);
      this.write(context, words, left, area.y + 12);
      return;
    }
  }

  // On a ground of its own, so that lines do not cross it.
  write(context, words, x, y, align = 'left') {
    const width = context.measureText(words).width, left = align === 'right' ? x - width : x;
    context.fillStyle = colour('--ground');
    context.globalAlpha = 0.82;
    context.fillRect(left - 2, y - 11, width + 4, 14);
    context.globalAlpha = 1;
    context.fillStyle = colour('--ink');
    context.fillText(words, left, y);
  }

  xOf(time) {
    return this.chart.toDomXCoord(time);
  }
}
