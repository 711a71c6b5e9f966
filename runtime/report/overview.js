// One plot of all rails over the run, above those of each: one voltage a rail, each with its name beside it.

const NAME_STEP = 17;     // pixels from one name to the next
const LABEL_ROWS = 3;     // of events, one above the other
const LABEL_STEP = 15;

class Overview {
  constructor(place, rails, simulated) {
    this.place = place;
    this.rails = rails;
    this.index = null;
    this.quantity = simulated ? TERMINAL : SETPOINT;
    this.shown = [];
    this.events = [];
    this.whole = this.heights(rails.map((rail) => rail.whole), true);
    this.chart = new Dygraph(place, [[0, 0], [1, 0]], this.options());
    this.cursor = this.add('div', 'cursor');
    this.band = this.add('div', 'band');
    this.names = rails.map((rail, index) => {
      const tag = this.add('span', 'name');
      tag.hidden = false;
      tag.textContent = rail.name;
      tag.style.borderColor = 'var(--rail-' + index % 5 + ')';
      return tag;
    });
  }

  add(tag, kind) {
    const mark = document.createElement(tag);
    mark.className = kind;
    mark.hidden = true;
    this.place.append(mark);
    return mark;
  }

  options() {
    return {
      labels: ['time', 'rails'], legend: 'never', showLabelsOnHighlight: false, highlightCircleSize: 0, interactionModel: {},
      axisLabelFontSize: 12, rightGap: 12, xRangePad: 0, valueRange: this.whole,
      plotter: (drawing) => this.drawRails(drawing.drawingContext, drawing.plotArea, drawing.dygraph),
      axes: {
        x: {drawGrid: true, axisLabelWidth: 130, pixelsPerLabel: 95,
            ticker: (a, b) => timeTicks(a, b, this.place.clientWidth - AXIS_WIDTH)},
        y: {axisLabelWidth: AXIS_WIDTH, ticker: (a, b) => valueTicks(a, b, this.place.clientHeight - 24, 'V')},
      },
      gridLineColor: colour('--grid'), axisLineColor: colour('--rule'),
    };
  }

  // Of all rails, with 0, and with room above for the words of events.
  heights(ranges, withZero) {
    let low = Math.min(...ranges.map((range) => range.low[this.quantity]));
    let high = Math.max(...ranges.map((range) => range.high[this.quantity]));
    if (withZero) { low = Math.min(low, 0); high = Math.max(high, 0); }
    if (!(high - low > 1e-9)) { low -= 0.5; high += 0.5; }
    return [low - 0.04 * (high - low), high + 0.34 * (high - low)];
  }

  draw(view, shown, fit) {
    this.shown = shown;
    this.events = shown[0].events;
    const heights = fit ? this.heights(shown.map((one) => one.range), false) : this.whole;
    this.chart.updateOptions({file: [[view.from, 0], [view.to, 0]], dateWindow: [view.from, view.to], valueRange: heights,
                              gridLineColor: colour('--grid'), axisLineColor: colour('--rule')});
    this.placeNames();
  }

  drawRails(context, area, chart) {
    context.save();
    context.font = LABEL_FONT;
    this.drawEvents(context, area, chart);
    this.shown.forEach((shown, index) => {
      context.strokeStyle = context.fillStyle = colour('--rail-' + index % 5);
      context.lineWidth = 1.8;
      const points = shown.rows.map((row) => [chart.toDomXCoord(row[0]), chart.toDomYCoord(row[this.quantity + 1])]);
      if (shown.envelope) this.drawEnvelope(context, points); else this.trace(context, points, true);
    });
    context.restore();
  }

  trace(context, points, isOpen) {
    if (isOpen) context.beginPath();
    points.forEach(([x, y], i) => context[isOpen && i === 0 ? 'moveTo' : 'lineTo'](x, y));
    if (isOpen) context.stroke();
  }

  // Least and greatest by turns.
  drawEnvelope(context, points) {
    const low = points.filter((_, i) => i % 2 === 0), high = points.filter((_, i) => i % 2 === 1);
    context.globalAlpha = 0.25;
    context.beginPath();
    this.trace(context, high.concat([...low].reverse()), false);
    context.fill();
    context.globalAlpha = 1;
    this.trace(context, low, true);
    this.trace(context, high, true);
  }

  // What happens at one place of the screen in one word is told once, with the rails that it happens to.
  grouped(chart) {
    const groups = [];
    for (const event of this.events) {
      const x = chart.toDomXCoord(event.at);
      const known = groups.find((one) => one.words === event.words && Math.abs(one.x - x) < 1);
      const rail = event.rail === null ? null : this.rails[event.rail].name;
      if (!known) groups.push({x, words: event.words, kind: event.kind, rails: rail === null ? [] : [rail]});
      else if (rail !== null && !known.rails.includes(rail)) known.rails.push(rail);
    }
    return groups;
  }

  drawEvents(context, area, chart) {
    const rank = (event) => ['trip', 'fault', 'mark'].indexOf(event.kind) & 3;
    const rows = Array.from({length: LABEL_ROWS}, () => []);
    for (const event of this.grouped(chart).sort((a, b) => rank(a) - rank(b) || a.x - b.x)) {
      const important = event.kind === 'trip' || event.kind === 'fault';
      context.strokeStyle = colour(important ? '--bad' : '--rule');
      context.lineWidth = important ? 2 : 1;
      context.beginPath();
      context.moveTo(event.x, area.y);
      context.lineTo(event.x, area.y + area.h);
      context.stroke();
      this.writeLabel(context, event.rails.length ? event.rails.join(', ') + ' ' + event.words : event.words, event.x, area, rows);
    }
  }

  // In the first row that has room, right or left of its line; nowhere where all are taken.
  writeLabel(context, any, x, area, rows) {
    const words = any.length > 40 ? any.slice(0, 39) + '…' : any;
    const width = context.measureText(words).width + 6;
    for (let row = 0; row < rows.length; ++row) {
      for (const left of [x + 4, x - width]) {
        if (left < area.x || left + width > area.x + area.w) continue;
        if (rows[row].some(([from, to]) => left < to && left + width > from)) continue;
        rows[row].push([left, left + width]);
        context.fillStyle = colour('--ground');
        context.fillRect(left - 2, area.y + row * LABEL_STEP + 1, width, LABEL_STEP - 1);
        context.fillStyle = colour('--ink');
        context.fillText(words, left, area.y + row * LABEL_STEP + 12);
        return;
      }
    }
  }

  // Each at the right, above the highest voltage of its rail, moved apart where they would cover each other.
  placeNames() {
    const peak = (index) => {
      const {low, high} = this.shown[index].range;
      return Math.abs(low[this.quantity]) > Math.abs(high[this.quantity]) ? low[this.quantity] : high[this.quantity];
    };
    const places = this.names.map((tag, index) => ({tag, y: this.chart.toDomYCoord(peak(index)) - NAME_STEP / 2 - 2})).sort((a, b) => a.y - b.y);
    const area = this.chart.getArea(), last = area.y + area.h;
    let next = area.y + NAME_STEP / 2;
    for (const place of places) next = (place.y = Math.max(place.y, next)) + NAME_STEP;
    let limit = last;
    for (const place of [...places].reverse()) limit = (place.y = Math.min(place.y, limit)) - NAME_STEP;
    for (const {tag, y} of places) {
      tag.style.top = (y - NAME_STEP / 2) + 'px';
      tag.style.right = (this.place.clientWidth - area.x - area.w + 6) + 'px';
    }
  }

  xOf(time) {
    return this.chart.toDomXCoord(time);
  }
}
