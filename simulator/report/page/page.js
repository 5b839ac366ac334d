"use strict";
/* The page's script: draws map and profile, and reads every number out of what was worked out
   beforehand. It writes text and drawings, never markup out of data. */
(() => {
  const byId = (id) => document.getElementById(id);
  const data = JSON.parse(byId("walk-data").textContent);
  const { units, settings, sky } = data;
  const counts = [settings.depart_min.length, settings.water_ml.length, settings.pace.length];
  const LEDGER = 5;
  const planned = data.ways[0];
  const SAID_ML = 50; // less is not told as a shortage
  const state = { closed: new Set(), hour: 0, touched: false };
  [state.depart, state.water, state.pace] = cellOf(settings.planned);

  // Lines and ledgers are written as steps: each number less the one so many places before it.
  function summed(steps, every = 1) {
    const sums = Array(every).fill(0);
    return steps.map((step, place) => (step === null ? null : (sums[place % every] += step)));
  }
  for (const way of data.ways) {
    if (!way.ledger) continue;
    for (const name of ["x", "y", "s", "h"]) way[name] = summed(way[name]);
    way.ledger = way.ledger.map((one) => summed(one, LEDGER));
  }

  function cellOf(place) {
    const pace = place % counts[2];
    const water = Math.floor(place / counts[2]) % counts[1];
    return [Math.floor(place / (counts[1] * counts[2])), water, pace];
  }
  const cell = () => (state.depart * counts[1] + state.water) * counts[2] + state.pace;

  // The way with what is shut: shut bridges that a way uses lead to the next way, in order.
  function wayNow() {
    const shut = [];
    for (;;) {
      const way = data.ways.find((one) => one.closed.length === shut.length &&
        one.closed.every((bridge) => shut.includes(bridge)));
      if (!way || way.none) return way ? { none: true } : { unknown: true };
      const next = way.crosses.find((bridge) => state.closed.has(bridge) && !shut.includes(bridge));
      if (next === undefined) return way;
      shut.push(next);
    }
  }

  // Words ---------------------------------------------------------------------------------
  function clock(epoch) {
    let shift = sky.offsets[0][1];
    for (const [from, seconds] of sky.offsets) if (epoch >= from) shift = seconds;
    return new Date((epoch + shift) * 1000);
  }
  const two = (number) => String(number).padStart(2, "0");
  const DAYS = ["Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"];
  function clockWords(epoch) {
    const when = clock(epoch);
    const told = `${two(when.getUTCHours())}:${two(when.getUTCMinutes())}`;
    const sameDay = when.getUTCDate() === clock(sky.depart).getUTCDate();
    return sameDay ? told : `${told} ${DAYS[when.getUTCDay()]}`;
  }
  const long = (metres) => (metres / units.long_m).toFixed(1);
  const cups = (ml) => `${(ml / units.cup_ml).toFixed(units.cup_digits)} ${units.cup}`; // in tables
  const volume = (ml) => (ml < units.volume_ml && units.cup !== units.volume ? cups(ml)
    : `${(ml / units.volume_ml).toFixed(1)} ${units.volume}`);
  function duration(minutes) {
    const whole = Math.round(minutes);
    const hours = Math.floor(whole / 60);
    return hours ? `${hours} h ${two(whole % 60)} min` : `${whole} min`;
  }
  function letter(index) {
    const first = Math.floor(index / 26);
    return (first ? String.fromCharCode(64 + first) : "") + String.fromCharCode(65 + (index % 26));
  }
  function daylight(epoch) {
    const place = Math.round((epoch - sky.start) / sky.step);
    const code = sky.states[Math.min(Math.max(place, 0), sky.states.length - 1)];
    return sky.names[Number(code)];
  }
  const headlines = { walk: "Walk.", "walk with care": "Walk with care.", "stay and wait": "Stay and wait." };

  // Positions -----------------------------------------------------------------------------
  function between(at, from, to) {
    let low = 0;
    let high = from.length - 1;
    if (at <= from[0]) return to[0];
    if (at >= from[high]) return to[high];
    while (high - low > 1) {
      const middle = (low + high) >> 1;
      if (from[middle] <= at) low = middle; else high = middle;
    }
    const span = from[high] - from[low];
    return span ? to[low] + ((to[high] - to[low]) * (at - from[low])) / span : to[low];
  }
  function streetAt(way, metres) {
    let name = "";
    for (const [from, street] of way.streets) if (from <= metres) name = street;
    return name || "a street without a name";
  }
  function hoursOf(way) {
    const flat = way.ledger[cell()];
    const depart = sky.depart + settings.depart_min[state.depart] * 60;
    const arrive = way.arrive_min[cell()];
    const rows = [];
    let before = 0;
    for (let row = 0; row * LEDGER < flat.length; row += 1) {
      const [ends, left, short, food, light] = flat.slice(row * LEDGER, (row + 1) * LEDGER);
      rows.push({
        letter: letter(row),
        from: depart + row * 3600,
        until: depart + Math.min((row + 1) * 60, arrive) * 60,
        starts: before,
        ends,
        left, short, food: food * 10, light,
        // Light in the middle of the hour, as in the printed ledger.
        state: daylight(depart + (row * 60 + Math.min(60, arrive - row * 60) / 2) * 60),
      });
      before = ends;
    }
    return { depart, arrive: depart + arrive * 60, minutes: arrive, rows };
  }

  // Drawing -------------------------------------------------------------------------------
  const SVG = "http://www.w3.org/2000/svg";
  function make(tag, kind, places, inside) {
    const made = document.createElementNS(SVG, tag);
    if (kind) made.setAttribute("class", kind);
    for (const [name, value] of Object.entries(places || {})) made.setAttribute(name, value);
    if (inside !== undefined) made.textContent = inside;
    return made;
  }
  const clear = (part) => part.replaceChildren();
  function lineOf(xs, ys) {
    let path = "";
    let pen = "M";
    xs.forEach((x, row) => {
      if (x === null || Number.isNaN(x)) { pen = "M"; return; }
      path += `${pen}${x} ${ys[row]}`;
      pen = "L";
    });
    return path;
  }
  const ring = (xs, ys) => `${lineOf(xs, ys)}Z`;

  // The map: the ground in metres under one transform, marks in pixels above it.
  const box = byId("live-map");
  const span = (values) => Math.max(...values) - Math.min(...values);
  const view = { x: 0, y: 0, share: 1, wide: 300, high: 260 }; // middle [m], metres a pixel, size [px]
  const drawing = make("svg", "", { "aria-hidden": "true" });
  const ground = make("g", "ground");
  const layers = {};
  for (const name of ["planned", "shutStreets", "way", "light"]) {
    layers[name] = make("path", name);
    ground.append(layers[name]);
  }
  for (const line of [...data.ground.lines].reverse()) {
    ground.prepend(make("path", `street ${line.colour}`, { d: lineOf(summed(line.x), summed(line.y)), style: `stroke-width:${Math.max(line.width * 1.3, 0.6)}px` }));
  }
  for (const area of data.ground.areas) {
    ground.prepend(make("path", `area ${area.kind}`, { d: area.x.map((xs, row) => ring(xs, area.y[row])).join("") }));
  }
  layers.shutStreets.setAttribute("d", lineOf(data.closed.line.x, data.closed.line.y));
  const marks = make("g", "marks");
  drawing.append(ground, marks);
  box.replaceChildren(drawing);
  const at = (x, y) => [view.wide / 2 + (x - view.x) / view.share, view.high / 2 - (y - view.y) / view.share];
  const seen = ([x, y]) => x > -20 && y > -20 && x < view.wide + 20 && y < view.high + 20;

  // A scale under the map, in the plan's units.
  const LENGTHS = [0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50];
  function scale() {
    const fitting = LENGTHS.filter((length) => (length * units.long_m) / view.share < 120);
    const length = fitting.at(-1) || LENGTHS[0];
    byId("scale-bar").style.width = `${Math.round((length * units.long_m) / view.share)}px`;
    byId("scale-words").textContent = `${length} ${units.long}`;
  }
  function mark(kind, x, y, text) {
    const spot = at(x, y);
    if (!seen(spot)) return;
    const [px, py] = spot;
    const group = make("g", kind, { transform: `translate(${px.toFixed(1)} ${py.toFixed(1)})` });
    group.append(...SHAPES[kind]());
    if (text) group.append(make("text", "", { y: 4 }, text));
    marks.append(group);
  }
  const square = (size) => make("rect", "", { x: -size / 2, y: -size / 2, width: size, height: size });
  const disc = (size) => make("circle", "", { r: size });
  const cross = (size) => make("path", "", { d: `M${-size} ${-size}L${size} ${size}M${-size} ${size}L${size} ${-size}` });
  const SHAPES = {
    place: () => [disc(3)], bridge: () => [square(13)], shut: () => [cross(8)], closed: () => [cross(4)],
    care: () => [make("path", "", { d: "M0 -10L8.7 -5L8.7 5L0 10L-8.7 5L-8.7 -5Z" })], stop: () => [disc(10)],
    hour: () => [disc(9)], start: () => [square(12)], end: () => [square(12)], here: () => [disc(13)], dot: () => [disc(1.5)],
  };
  let dots = { x: [], y: [] };
  function paintMap() {
    const kept = 1 / view.share;
    ground.setAttribute("transform", `matrix(${kept} 0 0 ${-kept} ${view.wide / 2 - view.x * kept} ${view.high / 2 + view.y * kept})`);
    scale();
    clear(marks);
    const way = shown ? shown.way : planned;
    for (const one of data.places) if (!one.mark) mark("place", one.x, one.y);
    data.closed.x.forEach((x, row) => mark("closed", x, data.closed.y[row]));
    dots = shown ? rough(way).dots : { x: [], y: [] };
    dots.x.forEach((x, row) => mark("dot", x, dots.y[row]));
    const on = (metres) => [between(metres, way.s, way.x), between(metres, way.s, way.y)];
    if (shown) for (const [s] of way.bridges) mark("bridge", ...on(s));
    for (const [s, name] of planned.bridges) {
      const closed = name && [...state.closed].some((bridge) => data.bridges[bridge].startsWith(name));
      if (closed) mark("shut", between(s, planned.s, planned.x), between(s, planned.s, planned.y));
    }
    // Where to take care was found for the planned way at its hour.
    if (shown && way === planned) for (const one of data.care) mark("care", one.x, one.y, one.mark);
    for (const one of data.places) if (one.mark) mark("stop", one.x, one.y, one.mark);
    if (shown) for (const row of shown.told.rows.slice(1)) mark("hour", ...on(row.starts), row.letter);
    mark("start", way.x[0], way.y[0]);
    mark("end", way.x.at(-1), way.y.at(-1));
    if (shown && state.touched) mark("here", ...on(shown.told.rows[state.hour].starts));
  }
  let waiting = 0;
  function later() {
    if (!waiting) waiting = requestAnimationFrame(() => { waiting = 0; paintMap(); });
  }
  function size() {
    view.wide = Math.max(box.clientWidth, 100);
    const fits = (view.wide * Math.max(span(planned.y), 1)) / Math.max(span(planned.x), 1);
    view.high = Math.round(Math.max(220, Math.min(window.innerHeight * 0.42, 520, fits * 1.5)));
    for (const [name, value] of [["width", view.wide], ["height", view.high]]) drawing.setAttribute(name, value);
  }
  function look(x, y, share) {
    [view.x, view.y, view.share] = [x, y, Math.min(Math.max(share, 0.2), 500)];
    later();
  }
  // The whole way, equal scale both ways, whatever the width of the screen.
  function whole() {
    const [x0, x1] = [Math.min(...planned.x), Math.max(...planned.x)];
    const [y0, y1] = [Math.min(...planned.y), Math.max(...planned.y)];
    const share = Math.max((x1 - x0) / (view.wide - 44), (y1 - y0) / (view.high - 44), 500 / view.high);
    look((x0 + x1) / 2, (y0 + y1) / 2, share);
  }
  const zoom = (share) => look(view.x, view.y, view.share * share);
  const shift = (across, up) => look(view.x + across * view.wide * view.share, view.y + up * view.high * view.share, view.share);
  const centre = (x, y) => look(x, y, view.share);
  function inView(x, y) {
    const [px, py] = at(x, y);
    return px > 0 && py > 0 && px < view.wide && py < view.high;
  }

  // The profile: height against distance, hatched by daylight, letters where hours begin.
  const field = byId("live-profile");
  const graph = make("svg", "", { "aria-hidden": "true" });
  field.replaceChildren(graph);
  const frame = { left: 46, right: 8, top: 24, foot: 40, wide: 300, high: 190 };
  const heights = planned.h.map((h) => h / 10 / units.short_m);
  const low = Math.min(...heights);
  const high = Math.max(...heights, low + 60 / units.short_m);
  const [base, top] = [low - 0.1 * (high - low), high + 0.12 * (high - low)];
  let far = planned.s.at(-1);
  const across = (metres) => frame.left + (metres / far) * (frame.wide - frame.left - frame.right);
  const up = (height) => frame.high - frame.foot - ((height - base) / (top - base)) * (frame.high - frame.foot - frame.top);
  const heightAt = (way, s) => between(s, way.s, way.h) / 10 / units.short_m;
  function steps(range, most) {
    const rough = range / Math.max(most, 1);
    const power = 10 ** Math.floor(Math.log10(rough));
    return [1, 2, 5, 10].map((one) => one * power).find((one) => one >= rough) || power;
  }
  function hatches() {
    const defs = make("defs");
    const dusk = make("pattern", "", { id: "dusk", width: 6, height: 6, patternUnits: "userSpaceOnUse" });
    dusk.append(make("circle", "dusk", { cx: 2, cy: 2, r: 0.8 }));
    const night = make("pattern", "", { id: "night", width: 6, height: 6, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)" });
    night.append(make("path", "night", { d: "M0 0V6" }));
    defs.append(dusk, night);
    return defs;
  }
  let gapsDrawn = 0;
  function paintProfile() {
    frame.wide = Math.max(field.clientWidth, 160);
    graph.setAttribute("width", frame.wide);
    graph.setAttribute("height", frame.high);
    graph.replaceChildren(hatches());
    gapsDrawn = 0;
    if (!shown) return;
    const { way, told } = shown;
    far = way.s.at(-1);
    const add = (...made) => graph.append(make(...made));
    const line = lineOf(way.s.map((s) => across(s).toFixed(1)), way.h.map((h) => up(h / 10 / units.short_m).toFixed(1)));
    for (const [name, bands] of Object.entries(lightOn(way, told).bands)) {
      for (const [from, to] of bands) {
        const inside = way.s.filter((s) => s > from && s < to);
        const edge = [from, ...inside, to].map((s) => `L${across(s).toFixed(1)} ${up(heightAt(way, s)).toFixed(1)}`).join("");
        const foot = up(base);
        add("path", "", { d: `M${across(from)} ${foot}${edge}L${across(to)} ${foot}Z`, fill: `url(#${name === "night" ? "night" : "dusk"})` });
      }
    }
    const unit = units.long_m;
    const step = steps(far / unit, frame.wide / 90);
    for (let tick = 0; tick * unit <= far; tick += step) {
      add("path", "axis", { d: `M${across(tick * unit)} ${up(base)}v4` });
      add("text", "under", { x: across(tick * unit), y: up(base) + 17 }, String(Number(tick.toFixed(2))));
    }
    add("text", "under", { x: (frame.left + frame.wide) / 2, y: frame.high - 6 }, `distance from the start (${units.long})`);
    if (data.heights) {
      const rise = steps(top - base, 4);
      for (let tick = Math.ceil(base / rise) * rise; tick <= top; tick += rise) {
        add("path", "axis", { d: `M${frame.left} ${up(tick)}h-4` });
        add("text", "before", { x: frame.left - 7, y: up(tick) + 4 }, String(Math.round(tick)));
      }
    }
    add("text", "unit", { x: 2, y: 14 }, data.heights ? `height (${units.short})` : "height not known");
    add("path", "axis", { d: `M${frame.left} ${frame.top}V${up(base)}H${frame.wide - frame.right}` });
    add("path", "height", { d: line });
    for (const [from, to] of way.rough) {
      const inside = [from, ...way.s.filter((s) => s > from && s < to), to];
      add("path", "gap", { d: lineOf(inside.map(across), inside.map((s) => up(heightAt(way, s)))) });
      gapsDrawn += inside.length;
    }
    for (const [s] of way.bridges) add("rect", "bridge", { x: across(s) - 5, y: up(heightAt(way, s)) - 5, width: 10, height: 10 });
    let last = -99;
    for (const row of told.rows.slice(1)) {
      const x = across(row.starts);
      if (x - last < 19) continue;
      last = x;
      add("circle", "hour", { cx: x, cy: frame.top - 10, r: 9 });
      add("text", "letter", { x, y: frame.top - 6 }, row.letter);
    }
    const here = told.rows[state.hour].starts;
    if (state.touched) add("circle", "here", { cx: across(here), cy: up(heightAt(way, here)), r: 7 });
  }

  // Hollow by day, barred in twilight, solid in the dark: the bars are drawn in paper on ink.
  function lightOn(way, told) {
    const x = [];
    const y = [];
    const bands = { twilight: [], night: [] };
    let begun = null;
    const steps = Math.max(way.s.length, 2);
    const end = way.s.at(-1);
    for (let step = 0; step <= steps; step += 1) {
      const at = (end * step) / steps;
      const name = daylight(timeAt(told, at));
      const bar = name === "day" || (name === "twilight" && Math.floor(at / 120) % 2 === 0);
      x.push(bar ? between(at, way.s, way.x) : NaN);
      y.push(bar ? between(at, way.s, way.y) : NaN);
      if (begun && (begun.name !== name || step === steps)) {
        if (bands[begun.name]) bands[begun.name].push([begun.at, at]);
        begun = null;
      }
      if (!begun) begun = { name, at };
    }
    return { x, y, bands };
  }
  // Where the height is unknown: dots on both sides of the way.
  function rough(way) {
    const { share } = view;
    const found = { x: [], y: [] };
    for (const [from, to] of way.rough) {
      const pieces = Math.max(1, Math.round((to - from) / (7 * share)));
      for (let piece = 0; piece < pieces; piece += 1) {
        const at = from + ((piece + 0.5) * (to - from)) / pieces;
        const [x, y] = [between(at, way.s, way.x), between(at, way.s, way.y)];
        const east = between(at + 4 * share, way.s, way.x) - between(at - 4 * share, way.s, way.x);
        const north = between(at + 4 * share, way.s, way.y) - between(at - 4 * share, way.s, way.y);
        const off = (8 * share) / Math.max(Math.hypot(east, north), 1e-9);
        found.x.push(x - north * off, x + north * off);
        found.y.push(y + east * off, y - east * off);
      }
    }
    return { dots: found };
  }
  function timeAt(told, metres) {
    for (const row of told.rows) {
      if (metres <= row.ends && row.ends > row.starts) {
        return row.from + ((row.until - row.from) * (metres - row.starts)) / (row.ends - row.starts);
      }
    }
    return told.arrive;
  }

  // The controls --------------------------------------------------------------------------
  const text = (id, value) => { byId(id).textContent = value; };
  const sliders = { depart: "depart", water: "water", pace: "pace" };
  function settingWords() {
    const shift = settings.depart_min[state.depart];
    const depart = clockWords(sky.depart + shift * 60);
    const how = shift === 0 ? "as planned" : `${duration(Math.abs(shift))} ${shift < 0 ? "earlier" : "later"}`;
    const [, plannedWater] = cellOf(settings.planned);
    const carried = state.water === plannedWater ? "as packed" : "instead of what is packed";
    const pace = settings.pace[state.pace];
    return {
      depart: `${depart}, ${how}`,
      water: `${volume(settings.water_ml[state.water])}, ${carried}`,
      pace: pace === 1 ? "as planned" : `${Math.round(Math.abs(pace - 1) * 100)} % ${pace < 1 ? "slower" : "quicker"}`,
    };
  }
  function cells(row, values) {
    for (const [tag, value, name, kind] of values) {
      const made = document.createElement(tag);
      if (tag === "th") made.scope = "row";
      if (name) made.dataset.name = name;
      made.className = kind || "";
      if (value !== "") made.append(value);
      row.append(made);
    }
  }
  function bar(share, less) {
    const made = document.createElement("span");
    made.className = less ? "bar less" : "bar";
    made.style.width = `${Math.round(56 * Math.min(share, 1))}px`;
    made.setAttribute("aria-hidden", "true");
    return made;
  }
  function amount(ml, most, less) {
    if (!ml && less) return ""; // a cell with nothing in it is hidden on a narrow screen
    const made = document.createElement("span");
    if (ml) made.append(bar(ml / most, less), " ");
    made.append(ml ? cups(ml) : "empty");
    return made;
  }

  let shown = null; // what the marks and hours were drawn from
  const isPlanned = () => cell() === settings.planned && state.closed.size === 0;
  function refresh() {
    const way = wayNow();
    const words = settingWords();
    for (const name of Object.keys(sliders)) {
      if (!byId(`set-${name}`)) continue;
      text(`told-${name}`, words[name]);
      byId(`set-${name}`).setAttribute("aria-valuetext", words[name]);
    }
    const lost = Boolean(way.none || way.unknown);
    for (const id of ["hour-buttons", "live-profile", "told-hour"]) byId(id).hidden = lost;
    byId("live-ledger").hidden = lost || isPlanned();
    byId("changed").hidden = isPlanned();
    byId("live-why").replaceChildren();
    if (lost) {
      shown = null;
      text("live-level", way.none ? "No way home." : "Not worked out.");
      text("live-sentence", way.none
        ? "With these bridges shut no way home on foot is left on this map. Stay, or turn back early."
        : "These bridges together were not worked out beforehand. Name them under closed in the plan and make it again.");
      text("told-hour", "");
      byId("live-hours").replaceChildren();
      byId("hour-buttons").replaceChildren();
      for (const name of ["way", "light"]) layers[name].setAttribute("d", "");
      layers.planned.setAttribute("d", lineOf(planned.x, planned.y));
      answer();
      paintProfile();
      later();
      return;
    }
    const told = hoursOf(way);
    shown = { way, told };
    state.hour = Math.min(state.hour, told.rows.length - 1);
    const place = cell();
    text("live-level", headlines[way.level[place]] || way.level[place]);
    const short = Math.max(...told.rows.map((row) => row.short));
    const home = arrival(told);
    text("live-sentence", `${long(way.s.at(-1))} ${units.long}, leaving ${clockWords(told.depart)}, ${home.words}. ` +
      (short >= SAID_ML ? `Water runs short by up to ${volume(short)}.` : "Water does not run short.") + inTime(told.arrive, home.late));
    for (const reason of way.why[place]) {
      const item = document.createElement("li");
      item.textContent = data.reasons[reason];
      byId("live-why").append(item);
    }
    drawWay(way, told);
    writeHours(told);
    answer();
    choose(state.hour, false);
  }
  // The changed answer stands beside the planned one at the head of the page, too.
  function answer() {
    text("changed-level", byId("live-level").textContent);
    text("changed-sentence", byId("live-sentence").textContent);
  }
  // Home as a span: that of the planned walk, in share of the time, rounded as at the head of the page.
  function arrival(told) {
    const round = (epoch, by, how) => how(epoch / (60 * by)) * 60 * by;
    const likely = round(told.arrive, data.about_min, Math.round);
    if (data.span_min === null) return { words: `home about ${clockWords(likely)}`, late: told.arrive };
    const minutes = planned.arrive_min[settings.planned];
    const [low, high] = data.span_min.map((end) => told.depart + (60 * told.minutes * end) / minutes);
    const [early, late] = [round(Math.min(low, told.arrive), data.span_step_min, Math.floor),
      round(Math.max(high, told.arrive), data.span_step_min, Math.ceil)];
    const first = clock(early).getUTCDate() === clock(late).getUTCDate() ? clockWords(early).slice(0, 5) : clockWords(early);
    return { words: `home between ${first} and ${clockWords(late)}, most likely about ${clockWords(likely)}`, late };
  }
  function inTime(arrive, slow) {
    if (data.home_by === null) return "";
    const by = clockWords(data.home_by);
    const late = Math.ceil((arrive - data.home_by) / 60);
    if (late > 0) return ` Too late for ${by} by ${duration(late)}.`;
    return slow > data.home_by ? ` In time for ${by} if all goes as planned, too late on a slow walk.` : ` In time for ${by}.`;
  }

  function drawWay(way, told) {
    const light = lightOn(way, told);
    layers.way.setAttribute("d", lineOf(way.x, way.y));
    layers.light.setAttribute("d", lineOf(light.x, light.y));
    layers.planned.setAttribute("d", way === planned ? "" : lineOf(planned.x, planned.y));
    later();
  }

  function writeHours(told) {
    const body = byId("live-hours");
    const buttons = byId("hour-buttons");
    body.replaceChildren();
    buttons.replaceChildren();
    const most = Math.max(1, ...told.rows.map((row) => Math.max(row.left, row.short)));
    told.rows.forEach((row, index) => {
      const line = document.createElement("tr");
      cells(line, [
        ["th", `${row.letter} ${clockWords(row.from)}`, "", "w whole"],
        ["td", long(row.ends), units.long, "n item"],
        ["td", amount(row.left, most, false), "water", "w item"],
        ["td", amount(row.short >= SAID_ML ? row.short : 0, most, true), "short", "w item short"],
        ["td", row.food > 0 ? `${row.food} kcal` : "", "food short", "w item"],
        ["td", row.light >= 1 ? `${row.light} min without` : "", "lamp", "w item short"],
        ["td", row.state, "", "item last"],
      ]);
      body.append(line);
      const button = document.createElement("button");
      button.type = "button";
      button.textContent = `${row.letter} ${clockWords(row.from)}`;
      button.addEventListener("click", () => choose(index, true));
      buttons.append(button);
    });
  }

  // Touch an hour, see the place.
  function choose(hour, follow) {
    if (!shown) return;
    state.hour = hour;
    if (follow) state.touched = true;
    const { way, told } = shown;
    const row = told.rows[hour];
    const at = row.starts;
    const [x, y] = [between(at, way.s, way.x), between(at, way.s, way.y)];
    [...byId("hour-buttons").children].forEach((button, index) => button.setAttribute("aria-pressed", String(index === hour)));
    [...byId("live-hours").children].forEach((line, index) => line.classList.toggle("chosen", index === hour));
    if (state.touched) text("told-hour", `Hour ${row.letter}, ${clockWords(row.from)}: ${streetAt(way, at)}, ${units.long} ${long(at)}, ` +
      `${row.state}. At its end ${long(row.ends)} ${units.long} walked, water left ${row.left ? volume(row.left) : "none"}` +
      (row.short >= SAID_ML ? `, short ${volume(row.short)}.` : "."));
    if (follow && !inView(x, y)) centre(x, y);
    paintProfile();
    later();
  }
  function here() {
    if (!shown) return;
    const { way, told } = shown;
    const { starts } = told.rows[state.hour];
    state.touched = true;
    look(between(starts, way.s, way.x), between(starts, way.s, way.y), view.share * 0.4);
    paintProfile();
  }
  const actions = { "zoom-in": () => zoom(0.6), "zoom-out": () => zoom(1 / 0.6), whole, here };
  for (const [id, act] of Object.entries(actions)) byId(id).addEventListener("click", act);
  const keys = { ArrowLeft: () => shift(-0.15, 0), ArrowRight: () => shift(0.15, 0), ArrowUp: () => shift(0, 0.15),
    ArrowDown: () => shift(0, -0.15), "+": () => zoom(0.6), "-": () => zoom(1 / 0.6), 0: whole };
  box.addEventListener("keydown", (event) => {
    if (keys[event.key]) { keys[event.key](); event.preventDefault(); }
  });

  // A finger or the mouse moves the map, two fingers change its size, a touch tells of what is there.
  const fingers = new Map();
  let began = null;
  const placeOf = (event) => {
    const corner = drawing.getBoundingClientRect();
    return [event.clientX - corner.left, event.clientY - corner.top];
  };
  const groundAt = ([px, py]) => ({ x: view.x + (px - view.wide / 2) * view.share, y: view.y - (py - view.high / 2) * view.share });
  const apart = () => {
    const [first, second] = [...fingers.values()];
    return Math.hypot(first[0] - second[0], first[1] - second[1]);
  };
  box.addEventListener("pointerdown", (event) => {
    fingers.set(event.pointerId, placeOf(event));
    began = { moved: 0, apart: fingers.size === 2 ? apart() : 0, share: view.share };
    box.setPointerCapture(event.pointerId);
  });
  box.addEventListener("pointermove", (event) => {
    if (!fingers.has(event.pointerId) || !began) return;
    const [before, now] = [fingers.get(event.pointerId), placeOf(event)];
    fingers.set(event.pointerId, now);
    began.moved += Math.hypot(now[0] - before[0], now[1] - before[1]);
    if (fingers.size === 2 && began.apart) look(view.x, view.y, (began.share * began.apart) / Math.max(apart(), 1));
    else if (fingers.size === 1) look(view.x - (now[0] - before[0]) * view.share, view.y + (now[1] - before[1]) * view.share, view.share);
  });
  function lifted(event) {
    const spot = fingers.get(event.pointerId);
    fingers.delete(event.pointerId);
    if (event.type === "pointerup" && spot && began && began.moved < 6) touched(groundAt(spot));
    if (!fingers.size) began = null;
  }
  for (const name of ["pointerup", "pointercancel"]) box.addEventListener(name, lifted);
  box.addEventListener("wheel", (event) => {
    if (!event.ctrlKey) return; // the wheel alone scrolls the page
    zoom(event.deltaY > 0 ? 1.15 : 1 / 1.15);
    event.preventDefault();
  }, { passive: false });

  function hourNear(metres) {
    const rows = shown.told.rows;
    let best = 0;
    rows.forEach((row, index) => { if (row.starts <= metres) best = index; });
    return best;
  }
  field.addEventListener("click", (event) => {
    if (!shown) return;
    const x = event.clientX - graph.getBoundingClientRect().left;
    const share = (x - frame.left) / (frame.wide - frame.left - frame.right);
    choose(hourNear(Math.min(Math.max(share, 0), 1) * far), true);
  });
  function touched(event) {
    if (!shown) return;
    const { way } = shown;
    const reach = 24 * view.share;
    const place = nearest(data.places.map((p) => p.x), data.places.map((p) => p.y), event);
    const spot = nearest(way.x, way.y, event);
    const listed = way === planned ? data.care : [];
    const care = nearest(listed.map((one) => one.x), listed.map((one) => one.y), event);
    if (care.off < reach && care.off <= place.off) {
      const one = listed[care.row];
      text("told-hour", `Take care, ${one.mark}, ${one.words}`);
    } else if (place.off < reach && place.off < spot.off) {
      const one = data.places[place.row];
      text("told-hour", `${one.mark ? `Stop ${one.mark}: ` : ""}${one.name}${one.name === one.kind ? "" : ` (${one.kind})`}: ${one.why}`);
    } else if (spot.off < 2 * reach) choose(hourNear(way.s[spot.row]), true);
  }
  function nearest(xs, ys, event) {
    let best = { row: 0, off: Infinity };
    xs.forEach((x, row) => {
      const off = Math.hypot(x - event.x, ys[row] - event.y);
      if (off < best.off) best = { row, off };
    });
    return best;
  }

  for (const name of Object.keys(sliders)) {
    const input = byId(`set-${name}`);
    if (!input) continue;
    input.value = String(state[name]);
    input.addEventListener("input", () => { state[name] = Number(input.value); refresh(); });
  }
  for (const input of document.querySelectorAll("input[data-bridge]")) {
    input.checked = false;
    input.addEventListener("change", () => {
      const bridge = Number(input.dataset.bridge);
      if (input.checked) state.closed.add(bridge); else state.closed.delete(bridge);
      refresh();
    });
  }
  const again = byId("as-planned");
  again.addEventListener("click", () => {
    [state.depart, state.water, state.pace] = cellOf(settings.planned);
    state.closed.clear();
    for (const name of Object.keys(sliders)) if (byId(`set-${name}`)) byId(`set-${name}`).value = String(state[name]);
    for (const input of document.querySelectorAll("input[data-bridge]")) input.checked = false;
    refresh();
    whole();
  });

  // Light or dark: the device's wish until the person says otherwise.
  const device = matchMedia("(prefers-color-scheme: dark)");
  const theme = byId("theme");
  const isDark = () => (document.documentElement.dataset.theme || (device.matches ? "dark" : "light")) === "dark";
  function themed() { theme.setAttribute("aria-pressed", String(isDark())); }
  theme.addEventListener("click", () => {
    document.documentElement.dataset.theme = isDark() ? "light" : "dark";
    themed();
  });
  device.addEventListener("change", themed);

  document.documentElement.classList.add("scripted");
  size();
  refresh();
  whole();
  paintMap();
  theme.hidden = false;
  themed();
  addEventListener("resize", () => { size(); whole(); paintProfile(); });
  document.documentElement.dataset.ready = "yes";
  window.walkMap = { x: () => [view.x - (view.wide / 2) * view.share, view.x + (view.wide / 2) * view.share],
    y: () => [view.y - (view.high / 2) * view.share, view.y + (view.high / 2) * view.share],
    dots: () => dots.x.length, gaps: () => gapsDrawn, shut: () => marks.querySelectorAll(".shut").length };
})();
