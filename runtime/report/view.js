// The time that all plots show together, and the cursor in it.

const SHORTEST = 1e-6;  // s
const MOST_EVENTS = 80;  // drawn at once

class View {
  constructor(data, rails, plots) {
    this.data = data;
    this.rails = rails;
    this.plots = plots;
    const last = rails[0].nodes[rails[0].nodes.length - 1];
    this.duration = last ? last.begin + last.length : 1;
    this.from = 0;
    this.to = this.duration;
    this.cursor = null;
    this.fit = false;
    this.waiting = false;
  }

  set(from, to) {
    const width = Math.min(Math.max(to - from, SHORTEST), this.duration);
    this.from = Math.min(Math.max(from, 0), this.duration - width);
    this.to = this.from + width;
    this.later();
  }

  zoom(factor, around = (this.from + this.to) / 2) {
    this.set(around - (around - this.from) * factor, around + (this.to - around) * factor);
  }

  pan(share) {
    const step = share * (this.to - this.from);
    this.set(this.from + step, this.to + step);
  }

  // Brings a time to the middle, so near that what takes `spell` s is seen; without one, closer where the whole run is shown.
  show(time, spell = 0) {
    const width = spell > 0 ? Math.max(4 * spell, 20 * SHORTEST) : Math.min(this.to - this.from, this.duration / 10);
    const middle = time - spell / 2;
    this.set(middle - width / 2, middle + width / 2);
    // At the end of a spell it is over.
    this.point(Math.min(Math.max(time - 1e-3 * spell, 0), this.duration));
  }

  later() {
    if (this.waiting) return;
    this.waiting = true;
    requestAnimationFrame(() => this.draw());
  }

  draw() {
    this.waiting = false;
    const events = this.eventsIn(this.from, this.to);
    const columns = Math.max(Math.floor(this.plots[0].place.clientWidth - AXIS_WIDTH), 100);
    const shown = this.rails.map((rail) => ({
      ...rowsIn(rail, this.from, this.to, columns),
      range: rangeIn(rail, this.from, this.to),
      limited: this.limitedIn(rail, columns),
      events: events.length > MOST_EVENTS ? events.filter((event) => event.kind === 'trip') : events,
    }));
    for (const plot of this.plots) plot.draw(this, plot.index === null ? shown : shown[plot.index], this.fit);
    const bands = Math.max(...this.rails.map((rail) => longestBand(rail, this.from, this.to)));
    this.tell(events.length, shown.some((one) => one.envelope), bands);
    this.point(this.cursor);
  }

  tell(events, envelope, bands) {
    const step = (this.to - this.from) / 1000;
    let words = timeText(this.from, step) + ' to ' + timeText(this.to, step) + ' (' + timeText(this.to - this.from, step) + ')';
    if (envelope) words += '; each point shows lowest to highest';
    if (bands > 0) words += ', recorded in steps of ' + si(bands, 's', 2);
    if (events > MOST_EVENTS) words += '; zoom in for events';
    document.getElementById('window').textContent = words;
  }

  // Spells in constant current, as wide as can be seen.
  limitedIn(rail, columns) {
    const spells = [], step = (this.to - this.from) / columns;
    for (let column = 0; column < columns; ++column) {
      const from = this.from + column * step;
      if (!this.isLimited(rail, from, from + step)) continue;
      const last = spells[spells.length - 1];
      if (last && from - last[1] < step / 2) last[1] = from + step; else spells.push([from, from + step]);
    }
    return spells;
  }

  isLimited(rail, from, to) {
    let found = false;
    const note = (node) => { found = found || node.limited; };
    walk(rail.nodes, 0, from, to, (stretch, begin) => {
      if (begin < to && begin + stretch.length > from) note(stretch);
    }, note);
    return found;
  }

  eventsIn(from, to) {
    const found = [];
    for (const event of this.data.events) {
      const times = timesOf(this.rails[0].nodes, 0, event.time, from, to, MOST_EVENTS + 1, false, []);
      for (const at of times) if (!this.isKnown(found, event, at)) found.push({...event, at});
      if (found.length > 4 * MOST_EVENTS) break;
    }
    return found.sort((a, b) => a.at - b.at);
  }

  // Passes that were gone through one by one tell their events each.
  isKnown(found, event, at) {
    return found.some((one) => one.words === event.words && one.rail === event.rail && Math.abs(one.at - at) < 1e-9);
  }

  nextEvent(backwards) {
    const now = this.cursor === null ? (backwards ? this.to : this.from - 1) : this.cursor;
    const least = 1e-9 + 1e-12 * Math.abs(now);
    let best = null;
    for (const event of this.data.events) {
      const range = backwards ? [0, now - least] : [now + least, this.duration];
      const [at] = timesOf(this.rails[0].nodes, 0, event.time, range[0], range[1], 1, backwards, []);
      if (at === undefined) continue;
      if (best === null || (backwards ? at > best : at < best)) best = at;
    }
    if (best !== null) this.show(best);
  }

  point(time) {
    this.cursor = time;
    for (const plot of this.plots) {
      const inside = time !== null && time >= this.from && time <= this.to;
      plot.cursor.hidden = !inside;
      if (inside) plot.cursor.style.left = plot.xOf(time) + 'px';
    }
    this.rails.forEach((rail, index) => {
      rail.readout.textContent = time === null ? 'Point at a chart to read it.' : this.reading(rail, index, time);
    });
  }

  reading(rail, index, time) {
    const {stretch, values} = valuesAt(rail, time);
    const step = (this.to - this.from) / 1000;
    const value = (quantity, unit) => values ? si(toError(values[quantity], 10 * rail.quantum[quantity]), unit, 5)
                                             : siRange(stretch.low[quantity], stretch.high[quantity], unit);
    const at = values ? timeText(time, step) : timeText(time, step) + ' and ' + si(stretch.length, 's', 2) + ' around it';
    const parts = ['at ' + at, 'setpoint ' + value(SETPOINT, 'V')];
    if (this.data.simulated) {
      parts.push('terminals ' + value(TERMINAL, 'V'), 'load ' + value(LOAD, 'V'), value(CURRENT, 'A'), value(POWER, 'W'),
                 stretch.limited ? (values ? 'CC' : 'at times in CC') : 'not in CC');
    }
    const measured = rail.measured ? measuredAt(rail.measured, time) : null;
    if (measured) parts.push('measured ' + measured.map(([low, high, unit]) => siRange(low, high, unit)).join(', '));
    if (stretch.statement >= 0) parts.push('line ' + this.data.statements[stretch.statement][1]);
    return parts.join(' · ');
  }

  // The rail whose line was begun last at a time.
  lastBegun(time) {
    const begun = this.rails.map((rail) => beganAt(rail, time));
    return begun.indexOf(Math.max(...begun));
  }

  // The element id of the line that a rail was playing.
  lineAt(index, time) {
    const {stretch} = valuesAt(this.rails[index], time);
    return stretch.statement < 0 ? null : this.data.statements[stretch.statement][0];
  }
}
