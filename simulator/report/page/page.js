"use strict";
/* The offline page's script: draws the way with the plotting library that stands before it, and
   reads every number out of what was worked out beforehand. It writes text, never markup. */
(() => {
  const byId = (id) => document.getElementById(id);
  const data = JSON.parse(byId("walk-data").textContent);
  const { units, settings, sky } = data;
  const counts = [settings.depart_min.length, settings.water_ml.length, settings.pace.length];
  const LEDGER = 5;
  const SAID_ML = 50; // less is not told as a shortage
  const state = { closed: new Set(), hour: 0 };
  [state.depart, state.water, state.pace] = cellOf(settings.planned);

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
  Bokeh.set_log_level("warn");
  const P = Bokeh.Plotting;
  const Source = (columns) => new Bokeh.ColumnDataSource({ data: columns });
  const gaps = (values) => Float64Array.from(values, (value) => (value === null ? NaN : value));
  const role = (name) => getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();
  const painted = []; // [model, property, role] to paint again when the theme changes
  function paint(model, roles) {
    for (const [property, name] of Object.entries(roles)) painted.push([model, property, name]);
  }
  function repaint() {
    for (const [model, property, name] of painted) model[property] = role(name);
  }
  const field = (name) => ({ field: name });

  function figure(height, ranges, extra) {
    const made = P.figure({
      height, sizing_mode: "stretch_width", toolbar_location: null, outline_line_color: null,
      x_range: new Bokeh.Range1d(ranges[0]), y_range: new Bokeh.Range1d(ranges[1]),
      min_border: 4, ...extra,
    });
    paint(made, { background_fill_color: "paper", border_fill_color: "paper" });
    for (const grid of [...made.xgrid, ...made.ygrid]) grid.grid_line_color = null;
    return made;
  }
  function styleAxes(made, labels) {
    for (const [axes, label] of [[made.xaxis, labels[0]], [made.yaxis, labels[1]]]) {
      for (const axis of axes) {
        axis.axis_label = label;
        axis.axis_label_text_font_style = "normal";
        axis.axis_label_text_font_size = "12px";
        axis.major_label_text_font_size = "12px";
        axis.minor_tick_line_color = null;
        paint(axis, { axis_line_color: "ink", major_tick_line_color: "ink",
          axis_label_text_color: "ink", major_label_text_color: "ink" });
      }
    }
  }
  function glyph(renderer, roles) { paint(renderer.glyph, roles); return renderer; }

  const frame = data.ground.frame;
  const span = (values) => Math.max(...values) - Math.min(...values);
  const [wayWide, wayHigh] = [span(data.ways[0].x), span(data.ways[0].y)];
  const fits = (byId("live").parentElement.clientWidth * Math.max(wayHigh, 1)) / Math.max(wayWide, 1);
  const mapHeight = Math.round(Math.max(260, Math.min(window.innerHeight * 0.6, 560, fits * 1.6)));
  const map = figure(mapHeight, [{ start: frame[0], end: frame[1] }, { start: frame[2], end: frame[3] }],
    { tools: "pan,wheel_zoom", active_scroll: "wheel_zoom" });
  for (const axis of [...map.xaxis, ...map.yaxis]) axis.visible = false;
  // A scale under the map: the library's own cannot show miles of a map in metres.
  const LENGTHS = [0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50];
  function scale() {
    const share = (map.x_range.end - map.x_range.start) / Math.max(byId("live-map").clientWidth - 10, 1);
    const fitting = LENGTHS.filter((length) => (length * units.long_m) / share < 120);
    const length = fitting.at(-1) || LENGTHS[0];
    byId("scale-bar").style.width = `${Math.round((length * units.long_m) / share)}px`;
    byId("scale-words").textContent = `${length} ${units.long}`;
  }
  for (const end of ["start", "end"]) map.x_range.properties[end].change.connect(scale);
  for (const area of data.ground.areas) {
    const shown = map.patches(field("x"), field("y"), { source: Source({ x: area.x, y: area.y }),
      fill_color: null, hatch_pattern: area.kind === "water" ? "horizontal_line" : "dot",
      hatch_scale: 8, hatch_weight: 0.6, line_width: 0.5 });
    glyph(shown, { line_color: "pale", hatch_color: "pale" });
  }
  for (const line of data.ground.lines) {
    const shown = map.line(field("x"), field("y"), {
      source: Source({ x: gaps(line.x), y: gaps(line.y) }), line_width: Math.max(line.width * 1.3, 0.6) });
    glyph(shown, { line_color: line.colour });
  }
  const sources = {
    planned: Source({ x: [], y: [] }), way: Source({ x: [], y: [] }), light: Source({ x: [], y: [] }),
    bridges: Source({ x: [], y: [] }), shut: Source({ x: [], y: [] }),
    hours: Source({ x: [], y: [], text: [] }), here: Source({ x: [], y: [] }),
    ends: Source({ x: [], y: [] }), start: Source({ x: [], y: [] }),
    places: Source({ x: data.places.map((p) => p.x), y: data.places.map((p) => p.y) }),
    stops: Source({ x: data.places.filter((p) => p.mark).map((p) => p.x),
      y: data.places.filter((p) => p.mark).map((p) => p.y),
      text: data.places.filter((p) => p.mark).map((p) => p.mark) }),
    rough: Source({ x: [], y: [] }), roughProfile: Source({ x: [], y: [] }),
    profile: Source({ x: [], y: [] }), dark: Source({ l: [], r: [], b: [], t: [] }),
    dusk: Source({ l: [], r: [], b: [], t: [] }), crossing: Source({ x: [], y: [] }),
    care: Source({ x: [], y: [], text: [] }), closed: Source({ x: data.closed.x, y: data.closed.y }),
    shutStreets: Source({ x: gaps(data.closed.line.x), y: gaps(data.closed.line.y) }),
    profileHours: Source({ x: [], y: [], text: [] }), spot: Source({ x: [], y: [] }),
  };
  glyph(map.line(field("x"), field("y"), { source: sources.planned, line_width: 2, line_dash: [6, 4] }), { line_color: "grey" });
  glyph(map.line(field("x"), field("y"), { source: sources.way, line_width: 5, line_join: "round", line_cap: "round" }), { line_color: "ink" });
  glyph(map.line(field("x"), field("y"), { source: sources.light, line_width: 2.4 }), { line_color: "paper" });
  glyph(map.scatter(field("x"), field("y"), { source: sources.rough, size: 3, marker: "circle", line_width: 0 }), { fill_color: "ink", line_color: "ink" });
  glyph(map.scatter(field("x"), field("y"), { source: sources.places, size: 6, marker: "circle" }), { line_color: "grey", fill_color: "paper" });
  glyph(map.scatter(field("x"), field("y"), { source: sources.bridges, size: 13, marker: "square", fill_color: null, line_width: 2 }), { line_color: "ink" });
  glyph(map.scatter(field("x"), field("y"), { source: sources.shut, size: 16, marker: "x", line_width: 4 }), { line_color: "accent" });
  glyph(map.line(field("x"), field("y"), { source: sources.shutStreets, line_width: 1, line_dash: [3, 3] }), { line_color: "ink" });
  glyph(map.scatter(field("x"), field("y"), { source: sources.closed, size: 8, marker: "x", line_width: 2 }), { line_color: "ink" });
  glyph(map.scatter(field("x"), field("y"), { source: sources.care, size: 19, marker: "hex", line_width: 1.2 }), { line_color: "ink", fill_color: "paper" });
  glyph(map.text(field("x"), field("y"), field("text"), { source: sources.care, text_align: "center", text_baseline: "middle", text_font_size: "11px" }), { text_color: "ink" });
  glyph(map.scatter(field("x"), field("y"), { source: sources.stops, size: 20, marker: "circle", line_width: 3 }), { line_color: "ink", fill_color: "paper" });
  glyph(map.text(field("x"), field("y"), field("text"), { source: sources.stops, text_align: "center", text_baseline: "middle", text_font_size: "11px", text_font_style: "bold" }), { text_color: "ink" });
  glyph(map.scatter(field("x"), field("y"), { source: sources.hours, size: 18, marker: "circle", line_width: 1.2 }), { line_color: "ink", fill_color: "paper" });
  glyph(map.text(field("x"), field("y"), field("text"), { source: sources.hours, text_align: "center", text_baseline: "middle", text_font_size: "11px", text_font_style: "bold" }), { text_color: "ink" });
  glyph(map.scatter(field("x"), field("y"), { source: sources.start, size: 13, marker: "square", line_width: 3 }), { line_color: "ink", fill_color: "paper" });
  glyph(map.scatter(field("x"), field("y"), { source: sources.ends, size: 14, marker: "square" }), { line_color: "paper", fill_color: "ink" });
  glyph(map.scatter(field("x"), field("y"), { source: sources.here, size: 26, marker: "circle", fill_color: null, line_width: 4 }), { line_color: "accent" });

  const planned = data.ways[0];
  const heights = planned.h.map((h) => h / 10 / units.short_m);
  const low = Math.min(...heights);
  const high = Math.max(...heights, low + 60 / units.short_m);
  const base = low - 0.1 * (high - low);
  const top = high + 0.25 * (high - low);
  const profile = figure(210, [{ start: 0, end: planned.s.at(-1) / units.long_m }, { start: base, end: top }],
    { tools: "" });
  styleAxes(profile, [`distance from the start (${units.long})`,
    data.heights ? `height (${units.short})` : "height not known"]);
  glyph(profile.quad(field("l"), field("r"), field("b"), field("t"), { source: sources.dusk, fill_color: null, line_color: null, hatch_pattern: "dot", hatch_scale: 7, hatch_weight: 0.6 }), { hatch_color: "grey" });
  glyph(profile.quad(field("l"), field("r"), field("b"), field("t"), { source: sources.dark, fill_color: null, line_color: null, hatch_pattern: "right_diagonal_line", hatch_scale: 9, hatch_weight: 0.7 }), { hatch_color: "grey" });
  glyph(profile.line(field("x"), field("y"), { source: sources.profile, line_width: 2 }), { line_color: "ink" });
  glyph(profile.line(field("x"), field("y"), { source: sources.roughProfile, line_width: 3, line_dash: [2, 3] }), { line_color: "paper" });
  glyph(profile.scatter(field("x"), field("y"), { source: sources.crossing, size: 11, marker: "square", fill_color: null, line_width: 2 }), { line_color: "ink" });
  glyph(profile.scatter(field("x"), field("y"), { source: sources.profileHours, size: 17, marker: "circle" }), { line_color: "ink", fill_color: "paper" });
  glyph(profile.text(field("x"), field("y"), field("text"), { source: sources.profileHours, text_align: "center", text_baseline: "middle", text_font_size: "11px", text_font_style: "bold" }), { text_color: "ink" });
  glyph(profile.scatter(field("x"), field("y"), { source: sources.spot, size: 14, marker: "circle", line_width: 3 }), { line_color: "accent", fill_color: "paper" });

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
  // Where the height is unknown: dots on both sides of the way, gaps in the line of the profile.
  function rough(way) {
    const share = (map.x_range.end - map.x_range.start) / Math.max(byId("live-map").clientWidth - 10, 1);
    const dots = { x: [], y: [] };
    const line = { x: [], y: [] };
    for (const [from, to] of way.rough) {
      const pieces = Math.max(1, Math.round((to - from) / (7 * share)));
      for (let piece = 0; piece < pieces; piece += 1) {
        const at = from + ((piece + 0.5) * (to - from)) / pieces;
        const [x, y] = [between(at, way.s, way.x), between(at, way.s, way.y)];
        const east = between(at + 4 * share, way.s, way.x) - between(at - 4 * share, way.s, way.x);
        const north = between(at + 4 * share, way.s, way.y) - between(at - 4 * share, way.s, way.y);
        const off = (8 * share) / Math.max(Math.hypot(east, north), 1e-9);
        dots.x.push(x - north * off, x + north * off);
        dots.y.push(y + east * off, y - east * off);
      }
      for (const s of [from, ...way.s.filter((one) => one > from && one < to), to]) {
        line.x.push(s / units.long_m);
        line.y.push(between(s, way.s, way.h) / 10 / units.short_m);
      }
      line.x.push(NaN);
      line.y.push(NaN);
    }
    return { dots, line };
  }
  function timeAt(told, metres) {
    for (const row of told.rows) {
      if (metres <= row.ends && row.ends > row.starts) {
        return row.from + ((row.until - row.from) * (metres - row.starts)) / (row.ends - row.starts);
      }
    }
    return told.arrive;
  }
  const boxes = (spans) => ({ l: spans.map((s) => s[0] / units.long_m), r: spans.map((s) => s[1] / units.long_m),
    b: spans.map(() => base), t: spans.map(() => top) });

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
  map.x_range.properties.end.change.connect(() => { if (shown) sources.rough.data = rough(shown.way).dots; });
  function refresh() {
    const way = wayNow();
    const words = settingWords();
    for (const name of Object.keys(sliders)) {
      if (!byId(`set-${name}`)) continue;
      text(`told-${name}`, words[name]);
      byId(`set-${name}`).setAttribute("aria-valuetext", words[name]);
    }
    const lost = Boolean(way.none || way.unknown);
    byId("live-ledger").hidden = lost;
    byId("hour-buttons").hidden = lost;
    byId("live-why").replaceChildren();
    if (lost) {
      text("live-level", way.none ? "No way home." : "Not worked out.");
      text("live-sentence", way.none
        ? "With these bridges shut no way home on foot is left on this map. Stay, or turn back early."
        : "These bridges together were not worked out beforehand. Name them under closed in the plan and make it again.");
      text("told-hour", "");
      for (const name of ["way", "light", "rough", "roughProfile", "hours", "here", "profileHours", "spot", "shut", "care"]) sources[name].data = empty(sources[name].data);
      return;
    }
    const told = hoursOf(way);
    shown = { way, told };
    state.hour = Math.min(state.hour, told.rows.length - 1);
    const place = cell();
    text("live-level", headlines[way.level[place]] || way.level[place]);
    const short = Math.max(...told.rows.map((row) => row.short));
    text("live-sentence", `${long(way.s.at(-1))} ${units.long}, leaving ${clockWords(told.depart)}, home about ` +
      `${clockWords(told.arrive)} after ${duration(told.minutes)}. ` +
      (short >= SAID_ML ? `Water runs short by up to ${volume(short)}.` : "Water does not run short.") + inTime(told.arrive));
    for (const reason of way.why[place]) {
      const item = document.createElement("li");
      item.textContent = data.reasons[reason];
      byId("live-why").append(item);
    }
    drawWay(way, told);
    writeHours(told);
    choose(state.hour, false);
  }
  function inTime(arrive) {
    if (data.home_by === null) return "";
    const late = Math.ceil((arrive - data.home_by) / 60);
    return late > 0 ? ` Too late for ${clockWords(data.home_by)} by ${duration(late)}.` : ` In time for ${clockWords(data.home_by)}.`;
  }
  const empty = (columns) => Object.fromEntries(Object.keys(columns).map((key) => [key, []]));

  function drawWay(way, told) {
    sources.way.data = { x: way.x, y: way.y };
    sources.planned.data = way === planned ? { x: [], y: [] } : { x: planned.x, y: planned.y };
    const light = lightOn(way, told);
    const found = rough(way);
    sources.rough.data = found.dots;
    sources.roughProfile.data = found.line;
    sources.light.data = { x: light.x, y: light.y };
    const at = told.rows.slice(1).map((row) => row.starts);
    sources.hours.data = { x: at.map((s) => between(s, way.s, way.x)), y: at.map((s) => between(s, way.s, way.y)),
      text: told.rows.slice(1).map((row) => row.letter) };
    const shut = planned.bridges.filter(([, name]) => [...state.closed].some((b) => data.bridges[b].startsWith(name) && name));
    sources.shut.data = { x: shut.map(([s]) => between(s, planned.s, planned.x)), y: shut.map(([s]) => between(s, planned.s, planned.y)) };
    sources.bridges.data = { x: way.bridges.map(([s]) => between(s, way.s, way.x)), y: way.bridges.map(([s]) => between(s, way.s, way.y)) };
    // Where to take care was found for the planned way at its hour.
    const care = way === planned ? data.care : [];
    sources.care.data = { x: care.map((one) => one.x), y: care.map((one) => one.y), text: care.map((one) => one.mark) };
    sources.start.data = { x: [way.x[0]], y: [way.y[0]] };
    sources.ends.data = { x: [way.x.at(-1)], y: [way.y.at(-1)] };
    const high = (s) => between(s, way.s, way.h) / 10 / units.short_m;
    profile.x_range.end = way.s.at(-1) / units.long_m;
    sources.profile.data = { x: way.s.map((s) => s / units.long_m), y: way.h.map((h) => h / 10 / units.short_m) };
    sources.dark.data = boxes(light.bands.night);
    sources.dusk.data = boxes(light.bands.twilight);
    sources.crossing.data = { x: way.bridges.map(([s]) => s / units.long_m), y: way.bridges.map(([s]) => high(s)) };
    sources.profileHours.data = { x: at.map((s) => s / units.long_m), y: at.map(() => base + 0.93 * (top - base)),
      text: told.rows.slice(1).map((row) => row.letter) };
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
    const { way, told } = shown;
    const row = told.rows[hour];
    const at = row.starts;
    const [x, y] = [between(at, way.s, way.x), between(at, way.s, way.y)];
    sources.here.data = { x: [x], y: [y] };
    sources.spot.data = { x: [at / units.long_m], y: [between(at, way.s, way.h) / 10 / units.short_m] };
    [...byId("hour-buttons").children].forEach((button, index) => button.setAttribute("aria-pressed", String(index === hour)));
    [...byId("live-hours").children].forEach((line, index) => line.classList.toggle("chosen", index === hour));
    text("told-hour", `Hour ${row.letter}, ${clockWords(row.from)}: ${streetAt(way, at)}, ${units.long} ${long(at)}, ` +
      `${row.state}. At its end ${long(row.ends)} ${units.long} walked, water left ${row.left ? volume(row.left) : "none"}` +
      (row.short >= SAID_ML ? `, short ${volume(row.short)}.` : "."));
    if (follow && !inView(x, y)) centre(x, y);
  }
  const inView = (x, y) => x > map.x_range.start && x < map.x_range.end && y > map.y_range.start && y < map.y_range.end;
  function centre(x, y) {
    const [w, h] = [map.x_range.end - map.x_range.start, map.y_range.end - map.y_range.start];
    look(x - w / 2, x + w / 2, y - h / 2, y + h / 2);
  }
  function look(x0, x1, y0, y1) {
    map.x_range.setv({ start: x0, end: x1 });
    map.y_range.setv({ start: y0, end: y1 });
  }
  function zoom(share) {
    const [x, y] = [(map.x_range.start + map.x_range.end) / 2, (map.y_range.start + map.y_range.end) / 2];
    const [w, h] = [(map.x_range.end - map.x_range.start) * share, (map.y_range.end - map.y_range.start) * share];
    look(x - w / 2, x + w / 2, y - h / 2, y + h / 2);
  }
  function shift(across, up) {
    const [w, h] = [map.x_range.end - map.x_range.start, map.y_range.end - map.y_range.start];
    look(map.x_range.start + across * w, map.x_range.end + across * w, map.y_range.start + up * h, map.y_range.end + up * h);
  }
  // The whole way, equal scale both ways, whatever the width of the screen.
  function whole() {
    const inner = Math.max(byId("live-map").clientWidth - 10, 100) / Math.max(mapHeight - 10, 100);
    const pad = 1.12;
    const xs = planned.x;
    const ys = planned.y;
    const [x0, x1, y0, y1] = [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)];
    const height = Math.max((y1 - y0) * pad, ((x1 - x0) * pad) / inner, 500);
    const [x, y] = [(x0 + x1) / 2, (y0 + y1) / 2];
    look(x - (height * inner) / 2, x + (height * inner) / 2, y - height / 2, y + height / 2);
  }
  const actions = { "zoom-in": () => zoom(0.6), "zoom-out": () => zoom(1 / 0.6), whole,
    here: () => { const [s] = [shown && shown.told.rows[state.hour].starts]; if (shown) { zoom(0.4); centre(between(s, shown.way.s, shown.way.x), between(s, shown.way.s, shown.way.y)); } } };
  for (const [id, act] of Object.entries(actions)) byId(id).addEventListener("click", act);
  const keys = { ArrowLeft: () => shift(-0.15, 0), ArrowRight: () => shift(0.15, 0), ArrowUp: () => shift(0, 0.15),
    ArrowDown: () => shift(0, -0.15), "+": () => zoom(0.6), "-": () => zoom(1 / 0.6), 0: whole };
  byId("live-map").addEventListener("keydown", (event) => {
    if (keys[event.key]) { keys[event.key](); event.preventDefault(); }
  });

  function hourNear(metres) {
    const rows = shown.told.rows;
    let best = 0;
    rows.forEach((row, index) => { if (row.starts <= metres) best = index; });
    return best;
  }
  profile.on_event("tap", (event) => { if (shown && Number.isFinite(event.x)) choose(hourNear(event.x * units.long_m), true); });
  map.on_event("tap", (event) => {
    if (!shown || !Number.isFinite(event.x)) return;
    const { way } = shown;
    const reach = 0.03 * (map.x_range.end - map.x_range.start);
    const place = nearest(data.places.map((p) => p.x), data.places.map((p) => p.y), event);
    const spot = nearest(way.x, way.y, event);
    const care = nearest(sources.care.data.x, sources.care.data.y, event);
    if (care.off < reach && care.off <= place.off) {
      const one = data.care[care.row];
      text("told-hour", `Take care, ${one.mark}, ${one.words}`);
    } else if (place.off < reach && place.off < spot.off) {
      const one = data.places[place.row];
      text("told-hour", `${one.mark ? `Stop ${one.mark}: ` : ""}${one.name}${one.name === one.kind ? "" : ` (${one.kind})`}: ${one.why}`);
    } else if (spot.off < 2 * reach) choose(hourNear(way.s[spot.row]), false);
  });
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
  function themed() { theme.setAttribute("aria-pressed", String(isDark())); repaint(); }
  theme.addEventListener("click", () => {
    document.documentElement.dataset.theme = isDark() ? "light" : "dark";
    themed();
  });
  device.addEventListener("change", themed);

  document.documentElement.classList.add("scripted");
  repaint();
  whole();
  refresh();
  theme.hidden = false;
  themed();
  // The library's layers would be stops for the keyboard without a name; the map's own box has both.
  function passOver(root) {
    for (const part of root.querySelectorAll("*")) {
      if (part.classList.contains("bk-events")) part.tabIndex = -1;
      if (part.shadowRoot) passOver(part.shadowRoot);
    }
  }
  Promise.all([P.show(map, byId("live-map")), P.show(profile, byId("live-profile"))]).then(() => {
    whole();
    for (const id of ["live-map", "live-profile"]) passOver(byId(id));
    document.documentElement.dataset.ready = "yes";
    window.walkMap = { x: () => [map.x_range.start, map.x_range.end], y: () => [map.y_range.start, map.y_range.end],
      dots: () => sources.rough.data.x.length, gaps: () => sources.roughProfile.data.x.length };
  });
})();
