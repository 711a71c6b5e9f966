// Puts the charts into the page and lets pointer, keys, buttons and links move them.

const data = JSON.parse(document.getElementById('data').textContent);

// Until when a stretch changes what is set; all of it where it does not. Of a band no more is known than that it does.
function busyUntil(stretch) {
  if (stretch.band) return stretch.length;
  for (let i = stretch.count - 1; i > 0; --i) {
    const now = stretch.values[i], before = stretch.values[i - 1];
    if (now[SETPOINT] !== before[SETPOINT] || now[LIMIT] !== before[LIMIT]) return stretch.times[i];
  }
  return 0;
}

// Each line with the time when it first sets something.
function linesPlayed(view) {
  const first = new Map();
  const visit = (nodes, base, rail) => {
    let open = null;
    for (const node of nodes) {
      if (node.body) { visit(node.body, base + node.begin, rail); open = null; continue; }
      const line = node.statement < 0 ? null : data.statements[node.statement][0];
      const from = base + node.begin, busy = busyUntil(node);
      if (!open || open.line !== line) {
        open = line && !first.has(line) ? {line, time: {from, to: from, rail}} : null;
        if (open) first.set(line, open.time);
      } else {
        open.time.to = from;  // it was set there, if only by a step
      }
      if (open && busy > 0) open.time.to = from + busy;
    }
  };
  view.rails.forEach((rail, index) => visit(rail.nodes, 0, index));
  return first;
}

function goToLine(id) {
  const line = id && document.getElementById(id);
  if (!line) return;
  for (const old of document.querySelectorAll('.here')) old.classList.remove('here');
  const fold = line.closest('details');
  if (fold) fold.open = true;
  line.classList.add('here');
  line.scrollIntoView({block: 'center'});
}

function addLineLinks(view) {
  for (const [id, time] of linesPlayed(view)) {
    const line = document.getElementById(id);
    if (!line) continue;
    const link = document.createElement('a');
    link.className = 'to-chart';
    link.href = '#rail-' + time.rail;
    link.textContent = 'chart';
    link.setAttribute('aria-label', 'Line ' + id.split('-')[1] + ' in the chart');
    link.addEventListener('click', () => {
      const room = Math.max(0.15 * (time.to - time.from), view.duration / 1000);
      view.set(time.from - room, time.to + room);
      view.point(time.from);
    });
    line.querySelector('code').after(link);
  }
}

function addTimeLinks(view) {
  for (const link of document.querySelectorAll('a[data-time]')) {
    link.addEventListener('click', () => view.show(Number(link.dataset.time), Number(link.dataset.width)));
  }
}

function timeAt(plot, event) {
  const box = plot.place.getBoundingClientRect();
  return plot.chart.toDataXCoord(event.clientX - box.left);
}

const DOUBLE_CLICK = 300;  // ms, at most between its clicks

// A drag selects a time to zoom to, or with Shift or a finger moves what is shown; without one it is a click.
function addPointer(view, plot) {
  let start = null, click = 0;
  const clamp = (time) => Math.min(Math.max(time, view.from), view.to);
  plot.place.addEventListener('pointerdown', (event) => {
    if (event.button !== 0) return;
    start = {x: event.clientX, time: clamp(timeAt(plot, event)), moves: event.shiftKey || event.pointerType === 'touch'};
    plot.place.setPointerCapture(event.pointerId);
  });
  plot.place.addEventListener('pointermove', (event) => {
    const time = clamp(timeAt(plot, event));
    if (start && start.moves) {
      const by = start.time - timeAt(plot, event);
      view.set(view.from + by, view.to + by);
      view.draw();
    } else if (start) {
      const a = plot.xOf(Math.min(start.time, time)), b = plot.xOf(Math.max(start.time, time));
      Object.assign(plot.band.style, {left: a + 'px', width: (b - a) + 'px'});
      plot.band.hidden = false;
    }
    view.point(time);
  });
  plot.place.addEventListener('pointerup', (event) => {
    if (!start) return;
    const {x, time, moves} = start, end = clamp(timeAt(plot, event));
    start = null;
    plot.band.hidden = true;
    if (Math.abs(event.clientX - x) < 4) {
      // Not before it is clear that no second click follows.
      clearTimeout(click);
      click = setTimeout(() => goToLine(view.lineAt(plot.index === null ? view.lastBegun(time) : plot.index, time)), DOUBLE_CLICK);
    } else if (!moves) {
      view.set(Math.min(time, end), Math.max(time, end));
    }
  });
  plot.place.addEventListener('pointercancel', () => { start = null; plot.band.hidden = true; });
  plot.place.addEventListener('dblclick', (event) => {
    event.preventDefault();
    clearTimeout(click);
    view.set(0, view.duration);
  });
  plot.place.addEventListener('wheel', (event) => {
    if (!event.ctrlKey) return;
    event.preventDefault();
    view.zoom(Math.pow(1.002, event.deltaY), timeAt(plot, event));
  }, {passive: false});
}

function moveCursor(view, share) {
  const now = view.cursor === null ? (view.from + view.to) / 2 : view.cursor;
  view.point(Math.min(Math.max(now + share * (view.to - view.from), view.from), view.to));
  document.getElementById('window').textContent = view.rails.map((rail) => rail.name + ': ' + rail.readout.textContent).join('; ');
}

const ACTIONS = {
  whole: (view) => view.set(0, view.duration),
  in: (view) => view.zoom(0.5, view.cursor === null ? undefined : view.cursor),
  out: (view) => view.zoom(2, view.cursor === null ? undefined : view.cursor),
  left: (view) => view.pan(-0.25),
  right: (view) => view.pan(0.25),
  next: (view) => view.nextEvent(false),
  previous: (view) => view.nextEvent(true),
  line: (view) => { if (view.cursor !== null) goToLine(view.lineAt(view.lastBegun(view.cursor), view.cursor)); },
};
const KEYS = {'+': 'in', '=': 'in', '-': 'out', ArrowLeft: 'left', ArrowRight: 'right', Home: 'whole', n: 'next', p: 'previous',
              Enter: 'line'};

function addControls(view) {
  const tools = document.getElementById('tools');
  tools.hidden = false;
  for (const button of tools.querySelectorAll('button')) {
    button.addEventListener('click', () => ACTIONS[button.dataset.do](view));
  }
  document.getElementById('fit').addEventListener('change', (event) => { view.fit = event.target.checked; view.later(); });
  const panels = document.getElementById('panels');
  panels.addEventListener('keydown', (event) => {
    if (event.target !== panels || event.ctrlKey || event.altKey || event.metaKey) return;
    const isArrow = event.key === 'ArrowLeft' || event.key === 'ArrowRight';
    if (event.shiftKey && isArrow) moveCursor(view, event.key === 'ArrowLeft' ? -0.01 : 0.01);
    else if (KEYS[event.key]) ACTIONS[KEYS[event.key]](view);
    else return;
    event.preventDefault();
  });
}

// On paper colours are those for a light ground. Charts stay as wide as they are and are scaled: a canvas that changes its
// size now would come out empty.
const PAPER_WIDTH = 680;

function addPaper(view) {
  const scale = (width) => {
    for (const plot of view.plots) {
      const now = plot.place.clientWidth;
      plot.place.style.width = width ? now + 'px' : '';
      plot.place.style.zoom = width ? Math.min(width / now, 1.3) : '';
    }
    view.draw();
  };
  let folded = [];
  window.addEventListener('beforeprint', () => {
    folded = [...document.querySelectorAll('details:not([open])')];
    for (const one of folded) one.open = true;
    document.body.classList.add('paper');
    scale(PAPER_WIDTH);
  });
  window.addEventListener('afterprint', () => {
    for (const one of folded) one.open = false;
    document.body.classList.remove('paper');
    scale(0);
  });
  window.addEventListener('resize', () => view.later());
  matchMedia('(prefers-color-scheme: dark)').addEventListener('change', () => view.later());
}

function begin() {
  document.body.classList.add('scripted');
  const rails = data.rails.map((rail, index) => {
    const measured = rail.measured ? decodeMeasured(rail.measured, rail.quantum) : null;
    const nodes = decodeNodes(rail.nodes, rail.quantum);
    const whole = emptyRange();
    for (const node of nodes) include(whole, node.low, node.high);
    return {...rail, nodes, measured, whole, readout: document.querySelector('.readout[data-rail="' + index + '"]')};
  });
  const plots = [...document.querySelectorAll('.plot[data-rail]')].map((place) => {
    const index = Number(place.dataset.rail);
    return new Plot(place, rails[index], index, data.simulated, data.excursions);
  });
  for (const place of document.querySelectorAll('.plot.overview')) plots.push(new Overview(place, rails, data.simulated));
  const view = new View(data, rails, plots);
  for (const plot of plots) addPointer(view, plot);
  addControls(view);
  addTimeLinks(view);
  addLineLinks(view);
  addPaper(view);
  view.draw();
  window.report = view;
}

if (data.rails.length > 0) begin();
