// The page at the desk: what is set is sent whole at every change, the answer comes line by line.
const byId = (id) => document.getElementById(id);
const make = (tag, attributes = {}, ...children) => {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value === false || value === null || value === undefined) continue;
    if (name in made && typeof value !== "string") made[name] = value;
    else made.setAttribute(name, value);
  }
  made.append(...children.filter((child) => child !== "" && child !== null));
  return made;
};
const SVG = "http://www.w3.org/2000/svg";
const draw = (tag, attributes = {}, ...children) => {
  const made = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, String(value));
  made.append(...children);
  return made;
};
const copy = (value) => JSON.parse(JSON.stringify(value));
const equal = (a, b) => JSON.stringify(a) === JSON.stringify(b);

let start; // what the page began with
let state; // all that is set
let plan; // the state that is compared with
let planTold = null; // its answer
let told = null; // the last answer
let ground = null;
let answering = null;
let unsaved = false;
const past = []; // states to go back to

async function ask(path, body) {
  const response = await fetch(path, body === undefined ? {} : {
    method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) });
  if (!response.ok) throw new Error(`${response.status}: ${(await response.text()).trim()}`);
  return response;
}

// Changing --------------------------------------------------------------------------------------
let lastChange = { key: "", at: 0 };
function change(key, alter, refill = true) {
  const before = JSON.stringify(state);
  alter(state);
  if (JSON.stringify(state) === before) return;
  const now = Date.now();
  // Letters typed one after the other into one entry are one change.
  if (!(key && key === lastChange.key && now - lastChange.at < 2000)) past.push(before);
  lastChange = { key, at: now };
  if (past.length > 200) past.shift();
  if (refill) fill();
  later();
}
function goTo(other) {
  past.push(JSON.stringify(state));
  lastChange = { key: "", at: 0 };
  state = copy(other);
  fill();
  later();
}
function undo() {
  if (!past.length) return;
  state = JSON.parse(past.pop());
  lastChange = { key: "", at: 0 };
  fill();
  later();
}
let timer = 0;
function later(wait = 120) {
  stale("Answering what was changed; the verdict shown is still the one before.");
  drawMarks();
  clearTimeout(timer);
  timer = setTimeout(answer, wait);
}
function stale(words) {
  document.body.classList.add("stale");
  byId("verdict").setAttribute("aria-busy", "true");
  byId("working").textContent = words;
}

// Answering -------------------------------------------------------------------------------------
async function answer() {
  if (answering) answering.abort();
  const mine = new AbortController();
  answering = mine;
  const asked = copy(state);
  try {
    const response = await fetch("/answer", { method: "POST", signal: mine.signal,
      headers: { "Content-Type": "application/json" }, body: JSON.stringify({ state: asked }) });
    if (!response.ok) throw new Error(await response.text());
    const reader = response.body.pipeThrough(new TextDecoderStream()).getReader();
    let rest = "";
    for (;;) {
      const { value, done } = await reader.read();
      if (done) break;
      rest += value;
      const lines = rest.split("\n");
      rest = lines.pop();
      for (const line of lines) if (answering === mine) await hear(JSON.parse(line), asked);
    }
  } catch (fault) {
    if (fault.name !== "AbortError") lost();
  }
}
function lost() {
  stale("");
  document.body.classList.add("stale");
  byId("headline").textContent = "The desk has ended.";
  byId("sentence").textContent = "What was typed is kept. Start walkhome desk again with the same plan and open its new address.";
}
async function hear(line, asked) {
  if (line.line === "checked") {
    unsaved = line.unsaved;
    byId("save").textContent = unsaved ? "Save" : "Saved";
    bagSums(line.bag);
    faults(line.faults);
  } else if (line.line === "faults") faults(line.faults);
  else if (line.line === "stage") byId("working").textContent = `Working: ${line.words}.`;
  else if (line.line === "ground" && (!ground || ground.mark !== line.mark)) {
    ground = await (await ask("/ground")).json();
    ground.mark = line.mark;
    groundRead();
  } else if (line.line === "no way") {
    none("No way home.", line.reason);
  } else if (line.line === "fault") none("No answer.", line.words);
  else if (line.line === "walk" || line.line === "more") show(line, asked);
}
function none(headline, sentence) {
  told = null;
  document.body.classList.remove("stale");
  byId("verdict").removeAttribute("aria-busy");
  byId("working").textContent = "";
  byId("headline").textContent = headline;
  byId("sentence").textContent = sentence;
  byId("home-by").textContent = "";
  byId("strip").replaceChildren();
  byId("answer").hidden = true;
  byId("part-actions").replaceChildren();
  files(false);
  besides();
  drawMarks();
  drawProfile();
}
function files(there) {
  for (const [id, path] of [["print", "/walk/timeline.pdf"], ["all", "/walk/walk.zip"]]) {
    const link = byId(id);
    link.setAttribute("aria-disabled", String(!there));
    if (there) link.setAttribute("href", path); else link.removeAttribute("href");
  }
}
function show(line, asked) {
  told = line;
  document.body.classList.remove("stale");
  byId("verdict").removeAttribute("aria-busy");
  const text = (id, words) => { if (byId(id).textContent !== words) byId(id).textContent = words; };
  text("kicker", `${line.title} · ${line.day}`);
  text("headline", line.headline);
  text("sentence", line.sentence);
  text("home-by", line.home_by);
  text("working", line.line === "walk" ? "Trying other hours and shut bridges." : "");
  byId("answer").hidden = false;
  // The parts are made by the offline page's own template, with all text escaped.
  for (const [name, html] of Object.entries(line.html)) byId(`part-${name}`).innerHTML = html;
  byId("strip").replaceChildren(...line.hours.map((hour, row) => {
    const button = make("button", { type: "button", class: hour.short ? "short" : "" },
      make("b", {}, `${hour.letter} ${hour.start}`), make("span", {}, `${hour.along} ${line.long_unit}`),
      make("span", {}, hour.water_short ? `water short ${hour.water_short}` : `water ${hour.water || "none"}`),
      make("span", {}, `${hour.light_sign} ${hour.light}`), make("span", {}, `feels ${hour.felt}`));
    button.addEventListener("click", () => lookAtHour(row));
    return make("li", {}, button);
  }));
  const { departures, bridges } = line.tried;
  byId("bridge-title").textContent = line.bridge[0] || "With a bridge shut";
  byId("bridge-words").textContent = line.bridge[1];
  byId("departures").replaceChildren(...departures.map((one) => choice(one.depart.slice(11), `home ${one.arrive}`, one.level,
    () => change("", (now) => { now.entries["trip.depart"] = one.depart; }))));
  byId("departures-words").textContent = departures.length ? "Streets and stops as planned; choose one to have it worked out in full." : "";
  byId("bridges").replaceChildren(...bridges.map((one) => {
    const crossing = ground && ground.crossings.find((other) => other.name === one.name);
    return choice(one.name, one.arrive ? `home ${one.arrive}` : "", one.level, () => { if (crossing) toggle(crossing); });
  }));
  files(line.line === "more");
  if (equal(asked, plan)) planTold = line;
  besides();
  drawMarks();
  drawProfile();
  mirror();
  paint();
  if (line.line === "more") document.documentElement.dataset.ready = String(Number(document.documentElement.dataset.ready || 0) + 1);
}
function choice(first, second, third, act) {
  const button = make("button", { type: "button" }, make("b", {}, first), second, second ? make("br") : "", third);
  button.addEventListener("click", act);
  return make("li", {}, button);
}
function besides() {
  const changed = !equal(state, plan);
  byId("beside").hidden = !changed;
  if (!changed) return;
  byId("beside").querySelector("table").hidden = !planTold; // the plan itself may not have been worked out yet
  const [was, is] = [planTold, told].map((one) => (one ? [["Verdict", one.headline], ...one.figures] : [["Verdict", "none"]]));
  const now = new Map(is.map(([label, value]) => [label, value]));
  const rows = was.filter(([label, value]) => label === "Verdict" || now.get(label) !== value);
  byId("beside-rows").replaceChildren(...rows.map(([label, value]) => make("tr", {},
    make("th", { scope: "row" }, label), make("td", {}, value), make("td", { class: "strong" }, now.get(label) || "–"))));
  byId("undo").disabled = !past.length;
}

// Faults beside their entries -------------------------------------------------------------------
function faults(found) {
  for (const old of document.querySelectorAll(".fault")) old.textContent = "";
  for (const old of document.querySelectorAll("[aria-invalid]")) old.removeAttribute("aria-invalid");
  const list = [];
  for (const [name, problem] of found) {
    const words = problem[0].toUpperCase() + problem.slice(1);
    const entry = document.querySelector(`[data-entry="${CSS.escape(name)}"]`);
    const beside = document.querySelector(`[data-fault="${CSS.escape(name)}"]`);
    if (entry && beside) {
      beside.textContent = beside.textContent ? `${beside.textContent} ${words}.` : `${words}.`;
      entry.setAttribute("aria-invalid", "true");
      for (let part = entry.closest("details"); part; part = part.parentElement.closest("details")) part.open = true;
      const go = make("button", { type: "button" }, entry.dataset.label || name);
      go.addEventListener("click", () => entry.focus());
      list.push(make("li", {}, go));
    } else list.push(make("li", {}, name ? `${name}: ${problem}` : problem));
  }
  byId("faults").hidden = !found.length;
  byId("faults-title").textContent = found.length === 1 ? "One entry needs a look" : `${found.length} entries need a look`;
  byId("fault-list").replaceChildren(...list);
  if (found.length) none("No verdict yet.", "Something that is set cannot be used; it is marked below.");
}

// The form --------------------------------------------------------------------------------------
const GROUPS = [["trip", "Where and when"], ["walker", "Who walks"], ["weather", "Weather"], ["event", "What has happened"],
  ["bag", "What the bag holds"], ["choices", "How the walk is made"], ["pace", "Pace"], ["map", "Map"], ["", "Title and units"]];
const SUFFIX = { kg: "kg", m: "m", years: "y", clo: "clo", l: "l", "°C": "c", "%": "pct", "m/s": "m_s", "mm/h": "mm_h", "min/h": "min_per_h", h: "h", "1/h": "per_h" };
function labelOf(field) {
  const end = `_${SUFFIX[field.unit] || "?"}`;
  const bare = (field.name.endsWith(end) ? field.name.slice(0, -end.length) : field.name).replaceAll("_", " ");
  const named = { air: "air temperature", cloud: "cloud cover", wind: "wind", kind: "what happened" }[bare] || bare;
  return named[0].toUpperCase() + named.slice(1) + (field.unit && field.unit !== "degrees" ? `, ${field.unit}` : "");
}
const listed = (field) => field.many && (field.kind === "name" || field.kind === "point");
function entryOf(field, name) {
  const label = labelOf(field);
  const common = { id: `e-${name}`, "data-entry": name, "data-label": label, "aria-describedby": `h-${name} f-${name}` };
  const unless = field.default ? `${{ true: "yes", false: "no" }[field.default] || field.default} (unless set)` : "not set";
  let input;
  const get = () => state.entries[name] ?? (field.many ? [] : "");
  const set = (value, typed) => change(typed ? name : "", (now) => { now.entries[name] = value; }, !typed);
  if (field.many && field.kind === "word") {
    const box = make("fieldset", { class: "field", "data-entry": name, "data-label": label, tabIndex: -1 }, make("legend", {}, label));
    for (const word of field.words) {
      const tick = make("input", { type: "checkbox", checked: get().includes(word) });
      tick.addEventListener("change", () => set(field.words.filter((one) => (one === word ? tick.checked : get().includes(one)))));
      box.append(make("label", { class: "check" }, tick, word));
    }
    box.append(make("p", { class: "hint", id: `h-${name}` }, field.meaning), make("p", { class: "fault", id: `f-${name}`, "data-fault": name }));
    return box;
  }
  if (field.kind === "word" || field.kind === "switch" || (field.kind === "file" && !field.many)) {
    const words = field.kind === "switch" ? [["true", "yes"], ["false", "no"]] : (field.kind === "file" ? field.files : field.words).map((word) => [word, word]);
    input = make("select", common, make("option", { value: "" }, unless), ...words.map(([value, word]) => make("option", { value }, word)));
    input.value = get();
    input.addEventListener("change", () => set(input.value));
  } else if (listed(field) || field.kind === "file") {
    input = make("textarea", { ...common, rows: String(Math.max(2, get().length + 1)) });
    input.value = get().join("\n");
    input.addEventListener("input", () => set(input.value.split("\n").filter((part) => part.trim()), true));
  } else {
    const type = field.kind === "moment" ? "datetime-local" : "text";
    input = make("input", { ...common, type, inputmode: ["number", "whole"].includes(field.kind) ? "decimal" : null, placeholder: field.default || null });
    input.value = field.many ? get().join("; ") : get();
    input.addEventListener("input", () => set(field.many ? input.value.split(/;\s*|,\s+|\s+/).filter(Boolean) : input.value, true));
  }
  const hint = listed(field) ? `${field.meaning}; one a line` : field.meaning;
  return make("div", { class: listed(field) ? "field wide" : "field" }, make("label", { for: `e-${name}` }, label), input,
    make("p", { class: "hint", id: `h-${name}` }, hint), make("p", { class: "fault", id: `f-${name}`, "data-fault": name }));
}
function fillForm() {
  const open = new Set([...document.querySelectorAll("#form details[open]")].map((part) => part.dataset.group));
  const first = !document.querySelector("#form details");
  byId("form").replaceChildren(...GROUPS.map(([table, title]) => {
    const fields = start.fields.filter((field) => field.table === table);
    const inside = [make("p", { class: "fault", "data-fault": table || "-" })];
    if (table === "walker") {
      for (let number = 1; number <= state.persons; number += 1) inside.push(person(fields, number));
      const more = make("button", { type: "button" }, "Add a person");
      more.addEventListener("click", () => change("", addPerson));
      inside.push(more);
    } else inside.push(make("div", { class: "fields" }, ...fields.map((field) => entryOf(field, field.key))));
    return make("details", { "data-group": table, open: first ? ["trip", "walker", "weather"].includes(table) : open.has(table) }, make("summary", { "data-entry": table || "-", "data-label": title }, title), ...inside);
  }));
}
function person(fields, number) {
  const drop = make("button", { type: "button" }, `Take person ${number} out`);
  drop.addEventListener("click", () => change("", (now) => dropPerson(now, fields, number)));
  return make("fieldset", {}, make("legend", {}, state.persons > 1 ? `Person ${number}` : "The person"),
    make("div", { class: "fields" }, ...fields.map((field) => entryOf(field, `walker.${number}.${field.name}`))),
    state.persons > 1 ? drop : "");
}
function addPerson(now) {
  now.persons += 1;
  for (const key of Object.keys(now.entries)) {
    if (key.startsWith("walker.1.")) now.entries[key.replace(".1.", `.${now.persons}.`)] = copy(now.entries[key]);
  }
}
function dropPerson(now, fields, number) {
  for (const { name } of fields) {
    for (let place = number; place < now.persons; place += 1) now.entries[`walker.${place}.${name}`] = now.entries[`walker.${place + 1}.${name}`];
    delete now.entries[`walker.${now.persons}.${name}`];
  }
  now.persons -= 1;
}

// The bag ---------------------------------------------------------------------------------------
const heading = (column) => column.replace(/_(g|ml|kcal|h|clo|wh)$/, (end) => `, ${{ wh: "Wh" }[end.slice(1)] || end.slice(1)}`).replaceAll("_", " ");
function fillBag() {
  const table = byId("bag");
  const { columns } = start;
  table.tHead.replaceChildren(make("tr", {}, ...columns.map((name) => make("th", { scope: "col" }, heading(name))), make("th", { scope: "col" }, "take out")));
  table.tBodies[0].replaceChildren(...state.rows.map((row, place) => make("tr", {},
    ...columns.map((name, column) => cell(row, place, name, column)),
    make("td", {}, outButton(row, place)))));
}
// Other files in the place of the list, or of the areas drawn.
function fillSwaps() {
  for (const [what, none] of [["bag", "a new list"], ["area", "as drawn here"]]) {
    const names = [...new Set(["", state[what], ...start.files[what]])];
    byId(`swap-${what}`).replaceChildren(...names.map((name) => make("option", { value: name }, name || none)));
    byId(`swap-${what}`).value = state[what];
  }
}
async function swap(what) {
  const name = byId(`swap-${what}`).value;
  const said = await (await ask("/swap", { what, name })).json();
  byId(`f-swap-${what}`).textContent = said.faults ? `Not opened: ${fault(said)}` : "";
  if (said.faults) { fillSwaps(); return; }
  change("", (now) => { now[what] = name; if (said.rows) now.rows = said.rows; else now.areas = said.areas; });
}
function outButton(row, place) {
  const out = make("button", { type: "button", "aria-label": `Take out ${row.cells[0] || `item ${place + 1}`}` }, "×");
  out.addEventListener("click", () => change("", (now) => { now.rows.splice(place, 1); }));
  return out;
}
function cell(row, place, name, column) {
  const key = `bag.${place + 1}.${name}`;
  const label = `${heading(name)} of ${row.cells[0] || `item ${place + 1}`}`;
  const common = { "data-entry": key, "data-label": label, "aria-label": label, "aria-describedby": `f-${key}` };
  const words = { purpose: start.purposes, tier: start.tiers }[name];
  const text = row.cells[column];
  const input = words
    ? make("select", common, ...[...new Set([...(words.includes(text) ? [] : [text]), ...words])].map((word) => make("option", { value: word }, word || "choose")))
    : make("input", { ...common, type: "text", inputmode: start.numbers.includes(name) ? "decimal" : null });
  input.value = text;
  input.addEventListener(words ? "change" : "input", () => change(key, (now) => { now.rows[place].cells[column] = input.value; }, false));
  return make("td", { class: name }, input, make("p", { class: "fault", id: `f-${key}`, "data-fault": key }));
}
function bagSums(bag) {
  const sum = (name) => {
    const found = bag.sums[name];
    if (!found) return "";
    const digits = found[0] < 10 ? 2 : found[0] < 100 ? 1 : 0;
    return `${Number(found[0].toFixed(digits))}${found[1] ? ` and ${found[1]} unknown` : ""}`;
  };
  byId("bag").tFoot.replaceChildren(make("tr", {}, ...start.columns.map((name, place) => (place ? make("td", {}, sum(name)) : make("th", { scope: "row" }, "Together"))), make("td")));
  byId("bag-words").textContent = bag.full;
}

// The map ---------------------------------------------------------------------------------------
const view = { x: 0, y: 0, k: 0.02, width: 1, height: 1 };
const layers = []; // tiles of streets: [rank, box, path]
const TILE_M = 3000;
const STREETS = [[2.6, "grey", 0], [1.8, "pale", 0], [1.1, "pale", 0.012], [0.7, "pale", 0.05]]; // width, role, least px per m
const role = (name) => getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();
const toX = (x) => (x - view.x) * view.k + view.width / 2;
const toY = (y) => (view.y - y) * view.k + view.height / 2;
const fromX = (px) => (px - view.width / 2) / view.k + view.x;
const fromY = (py) => view.y - (py - view.height / 2) / view.k;
const metresOf = (text) => {
  const [lat, lon] = String(text).split(/[,;\s]+/).map(Number);
  return Number.isFinite(lat) && Number.isFinite(lon) ? place(lat, lon) : null;
};
const place = (lat, lon) => [(lon - ground.middle[1]) * ground.degree_m[1], (lat - ground.middle[0]) * ground.degree_m[0]];
const latLon = (x, y) => [Number((ground.middle[0] + y / ground.degree_m[0]).toFixed(5)), Number((ground.middle[1] + x / ground.degree_m[1]).toFixed(5))];
const written = (x, y) => latLon(x, y).join(", ");

function groundRead() {
  layers.length = 0;
  ground.streets.forEach(({ x, y }, rank) => {
    const tiles = new Map();
    let tile = null;
    let open = false;
    x.forEach((east, row) => {
      if (east === null) { open = false; return; }
      const key = `${Math.floor(east / TILE_M)} ${Math.floor(y[row] / TILE_M)}`;
      if (!open) {
        tile = tiles.get(key) || { path: new Path2D(), box: [Infinity, -Infinity, Infinity, -Infinity] };
        tiles.set(key, tile);
        tile.path.moveTo(east, -y[row]);
        open = true;
      } else tile.path.lineTo(east, -y[row]);
      const { box } = tile;
      box[0] = Math.min(box[0], east); box[1] = Math.max(box[1], east);
      box[2] = Math.min(box[2], y[row]); box[3] = Math.max(box[3], y[row]);
    });
    for (const { path, box } of tiles.values()) layers.push([rank, box, path]);
  });
  layers.sort((a, b) => b[0] - a[0]);
  byId("attribution").textContent = ground.attribution;
  whole();
  mirror();
}
function ends() {
  const entries = state.entries;
  return [["start", "trip.start"], ["home", "trip.home"]].map(([kind, key]) => ({ kind, key, at: metresOf(entries[key]) }))
    .concat((entries["trip.via"] || []).map((text, row) => ({ kind: "via", key: "trip.via", row, at: metresOf(text) })))
    .filter((end) => end.at);
}
function whole() {
  if (!ground) return;
  const points = ends().map((end) => end.at);
  const way = told && told.live.ways[0];
  if (way && way.x) way.x.forEach((x, row) => points.push([x, way.y[row]]));
  const [f0, f1, f2, f3] = ground.frame;
  const xs = points.length ? points.map((p) => p[0]) : [f0, f1];
  const ys = points.length ? points.map((p) => p[1]) : [f2, f3];
  const [x0, x1, y0, y1] = [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)];
  size();
  view.x = (x0 + x1) / 2;
  view.y = (y0 + y1) / 2;
  view.k = Math.min(view.width / Math.max((x1 - x0) * 1.2, 600), view.height / Math.max((y1 - y0) * 1.2, 600));
  look();
}
function size() {
  const box = byId("map").getBoundingClientRect();
  view.width = Math.max(box.width, 50);
  view.height = Math.max(box.height, 50);
}
function look() { paint(); drawMarks(); scaleBar(); }
function zoom(factor, px = view.width / 2, py = view.height / 2) {
  const [x, y] = [fromX(px), fromY(py)];
  view.k = Math.min(Math.max(view.k * factor, 0.0005), 3);
  view.x = x - (px - view.width / 2) / view.k;
  view.y = y + (py - view.height / 2) / view.k;
  look();
}
let painting = 0;
function paint() {
  cancelAnimationFrame(painting);
  painting = requestAnimationFrame(paintNow);
}
function paintNow() {
  if (!ground) return;
  const canvas = byId("ground");
  const share = window.devicePixelRatio || 1;
  canvas.width = Math.round(view.width * share);
  canvas.height = Math.round(view.height * share);
  const pen = canvas.getContext("2d");
  const world = () => pen.setTransform(view.k * share, 0, 0, view.k * share, (view.width / 2 - view.x * view.k) * share, (view.height / 2 + view.y * view.k) * share);
  pen.fillStyle = role("paper");
  pen.fillRect(0, 0, canvas.width, canvas.height);
  const pixel = 1 / view.k;
  for (const area of ground.ground.areas) {
    pen.setTransform(share, 0, 0, share, 0, 0);
    pen.beginPath();
    area.x.forEach((xs, ring) => xs.forEach((x, row) => pen[row ? "lineTo" : "moveTo"](toX(x), toY(area.y[ring][row]))));
    pen.fillStyle = hatch(pen, area.kind);
    pen.fill("evenodd");
  }
  world();
  pen.lineJoin = pen.lineCap = "round";
  for (const line of ground.ground.lines) trace(pen, line.x, line.y, line.width * 1.2 * pixel, role(line.colour));
  const [x0, x1, y0, y1] = [fromX(0), fromX(view.width), fromY(view.height), fromY(0)];
  for (const [rank, box, path] of layers) {
    const [width, colour, least] = STREETS[rank];
    if (view.k < least || box[0] > x1 || box[1] < x0 || box[2] > y1 || box[3] < y0) continue;
    pen.lineWidth = Math.max(width * Math.min(Math.max(view.k * 12, 0.5), 3), 0.5) * pixel;
    pen.strokeStyle = role(colour);
    pen.stroke(path);
  }
  if (told) paintWay(pen, pixel);
}
const hatches = new Map();
function hatch(pen, kind) {
  const key = `${kind} ${role("pale")}`;
  if (!hatches.has(key)) {
    const small = document.createElement("canvas");
    small.width = small.height = 8;
    const dot = small.getContext("2d");
    dot.fillStyle = dot.strokeStyle = role("pale");
    if (kind === "water") dot.fillRect(0, 3, 8, 1); else { dot.fillRect(1, 1, 1.4, 1.4); dot.fillRect(5, 5, 1.4, 1.4); }
    hatches.set(key, pen.createPattern(small, "repeat"));
  }
  return hatches.get(key);
}
function trace(pen, xs, ys, width, colour) {
  pen.beginPath();
  let open = false;
  xs.forEach((x, row) => {
    if (x === null) { open = false; return; }
    if (open) pen.lineTo(x, -ys[row]); else pen.moveTo(x, -ys[row]);
    open = true;
  });
  pen.lineWidth = width;
  pen.strokeStyle = colour;
  pen.stroke();
}
function paintWay(pen, pixel) {
  const { live } = told;
  pen.setLineDash([3 * pixel, 3 * pixel]);
  trace(pen, live.closed.line.x, live.closed.line.y, 1.6 * pixel, role("accent"));
  pen.setLineDash([]);
  if (planTold && planTold !== told && !equal(state, plan)) {
    const before = planTold.live.ways[0];
    pen.setLineDash([6 * pixel, 5 * pixel]);
    trace(pen, before.x, before.y, 2.4 * pixel, role("grey"));
    pen.setLineDash([]);
  }
  const way = live.ways[0];
  trace(pen, way.x, way.y, 6 * pixel, role("ink"));
  for (const piece of lightOf(live)) {
    if (piece.name === "night") continue;
    const { xs, ys } = stretch(way, piece.from, piece.to);
    if (piece.name === "twilight") pen.setLineDash([5 * pixel, 5 * pixel]);
    pen.lineCap = "butt";
    trace(pen, xs, ys, 3 * pixel, role("paper"));
    pen.setLineDash([]);
    pen.lineCap = "round";
  }
  for (const one of live.places) {
    pen.beginPath();
    pen.arc(one.x, -one.y, 3.2 * pixel, 0, 7);
    pen.fillStyle = role("paper");
    pen.strokeStyle = role("grey");
    pen.lineWidth = 1.2 * pixel;
    pen.fill();
    pen.stroke();
  }
  if (chosenHour !== null && told.hours[chosenHour]) {
    const rows = hourRows(live);
    const { xs, ys } = stretch(way, rows[chosenHour].starts, rows[chosenHour].ends);
    trace(pen, xs, ys, 3 * pixel, role("accent"));
  }
}
const between = (at, s, values) => {
  let row = 1;
  while (row < s.length - 1 && s[row] < at) row += 1;
  const share = s[row] > s[row - 1] ? Math.min(Math.max((at - s[row - 1]) / (s[row] - s[row - 1]), 0), 1) : 0;
  return values[row - 1] + share * (values[row] - values[row - 1]);
};
function stretch(way, from, to) {
  const inside = way.s.map((s, row) => [s, row]).filter(([s]) => s > from && s < to).map(([, row]) => row);
  const at = (s, values) => between(s, way.s, values);
  return { xs: [at(from, way.x), ...inside.map((row) => way.x[row]), at(to, way.x)],
    ys: [at(from, way.y), ...inside.map((row) => way.y[row]), at(to, way.y)] };
}
function hourRows(live) {
  const ledger = live.ways[0].ledger[live.settings.planned];
  const minutes = live.ways[0].arrive_min[live.settings.planned];
  const rows = [];
  let starts = 0;
  for (let row = 0; row * 5 < ledger.length; row += 1) {
    const ends = ledger[row * 5];
    rows.push({ starts, ends, from: row * 60, until: Math.min((row + 1) * 60, minutes) });
    starts = ends;
  }
  return rows;
}
function lightOf(live) {
  const { sky } = live;
  const end = live.ways[0].s.at(-1);
  const pieces = [];
  for (const hour of hourRows(live)) {
    const parts = 6;
    for (let part = 0; part < parts; part += 1) {
      const share = (part + 0.5) / parts;
      const epoch = sky.depart + 60 * (hour.from + share * (hour.until - hour.from));
      const code = sky.states[Math.min(Math.max(Math.floor((epoch - sky.start) / sky.step), 0), sky.states.length - 1)];
      const [from, to] = [part / parts, (part + 1) / parts].map((one) => Math.min(hour.starts + one * (hour.ends - hour.starts), end));
      const name = sky.names[Number(code)];
      const last = pieces.at(-1);
      if (last && last.name === name) last.to = to; else pieces.push({ name, from, to });
    }
  }
  return pieces;
}
let chosenHour = null;
function lookAtHour(row) {
  chosenHour = chosenHour === row ? null : row;
  const hour = hourRows(told.live)[row];
  if (chosenHour !== null && hour) {
    const way = told.live.ways[0];
    view.x = between((hour.starts + hour.ends) / 2, way.s, way.x);
    view.y = between((hour.starts + hour.ends) / 2, way.s, way.y);
  }
  look();
  drawProfile();
}
const LENGTHS = [0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100];
function scaleBar() {
  const units = told ? told.live.units : { long: "km", long_m: 1000 };
  const length = LENGTHS.filter((one) => one * units.long_m * view.k < 130).at(-1) || LENGTHS[0];
  byId("scale-bar").style.width = `${Math.round(length * units.long_m * view.k)}px`;
  byId("scale-words").textContent = `${length} ${units.long}`;
}

// Marks that can be touched and reached with the keyboard ----------------------------------------
const MOST_MARKS = 40;
const isShut = (crossing) => crossing.shut.every((name) => (state.entries["event.closed"] || []).includes(name));
function toggle(crossing) {
  change("", (now) => {
    const closed = (now.entries["event.closed"] || []).filter((name) => !crossing.shut.includes(name));
    now.entries["event.closed"] = isShut(crossing) ? closed : [...closed, ...crossing.shut];
  });
}
function move(end, x, y) {
  change(`move ${end.kind} ${end.row ?? ""}`, (now) => {
    if (end.kind === "via") now.entries["trip.via"][end.row] = written(x, y); else now.entries[end.key] = written(x, y);
  });
}
function mark(x, y, label, shapes, act, extra = {}) {
  const group = draw("g", { transform: `translate(${toX(x).toFixed(1)} ${toY(y).toFixed(1)})`, tabindex: 0, role: "button", "aria-label": label, ...extra },
    draw("circle", { r: 22, class: "hit" }), ...shapes);
  group.addEventListener("keydown", (event) => {
    if (event.key === "Enter" || event.key === " ") { act(); event.preventDefault(); event.stopPropagation(); }
  });
  return group;
}
const shownCrossings = () => {
  const way = told && told.live.ways[0];
  const near = (one) => (way && way.x ? Math.min(...way.x.map((x, row) => Math.hypot(x - one.x, way.y[row] - one.y))) : Math.hypot(one.x - view.x, one.y - view.y));
  return ground.crossings.map((one, row) => [isShut(one) ? -1 : near(one), row]).sort((a, b) => a[0] - b[0]).slice(0, MOST_MARKS).map(([, row]) => ground.crossings[row]);
};
const NAMES = { start: "Start", home: "Home", via: "Place to pass" };
function drawMarks() {
  if (!ground) return;
  const held = document.activeElement && document.activeElement.closest ? document.activeElement.closest("#marks g[tabindex]") : null;
  const key = held && held.dataset.key;
  const marks = [];
  state.areas.forEach((ring, row) => {
    const at = ring.map(([lat, lon]) => place(lat, lon));
    marks.push(draw("polygon", { class: "fence", points: at.map(([x, y]) => `${toX(x)},${toY(y)}`).join(" ") }));
    const middle = [0, 1].map((axis) => at.reduce((sum, point) => sum + point[axis], 0) / at.length);
    marks.push(mark(...middle, `Closed area ${row + 1}: Enter opens it again`, [draw("path", { class: "shut", d: "M-7 -7L7 7M-7 7L7 -7" })], () => change("", (now) => { now.areas.splice(row, 1); }), { "data-key": `area ${row}` }));
  });
  shownCrossings().forEach((one) => {
    const shut = isShut(one);
    const shapes = shut ? [draw("path", { class: "shut", d: "M-8 -8L8 8M-8 8L8 -8" })] : [draw("path", { class: "deck", d: "M-7 0H7" }), draw("path", { class: "bar", d: one.ford ? "M-7 -4H7M-7 4H7" : "M-6 -7V7M6 -7V7" })];
    marks.push(mark(one.x, one.y, `${one.name}${one.over ? `, over ${one.over}` : ""}: ${shut ? "shut, Enter opens it" : "Enter shuts it"}`, shapes, () => toggle(one), { "aria-pressed": shut, "data-key": `crossing ${one.name}` }));
  });
  if (told) {
    hourRows(told.live).forEach((hour, row) => {
      const way = told.live.ways[0];
      const at = [between(hour.starts, way.s, way.x), between(hour.starts, way.s, way.y)];
      if (row) marks.push(draw("g", { class: "passed", transform: `translate(${toX(at[0])} ${toY(at[1])})` }, draw("circle", { r: 9, class: "hour" }), Object.assign(draw("text"), { textContent: told.hours[row] ? told.hours[row].letter : "" })));
    });
    for (const one of told.live.places.filter((other) => other.mark)) {
      const words = `Stop ${one.mark}: ${one.name}, ${one.why}`;
      marks.push(mark(one.x, one.y, words, [draw("circle", { r: 10, class: "ring" }), Object.assign(draw("text"), { textContent: one.mark })], () => { byId("touched").textContent = words; }, { "data-key": `stop ${one.mark}` }));
    }
  }
  for (const end of ends()) {
    const shape = { start: draw("rect", { class: "open", x: -7, y: -7, width: 14, height: 14 }), home: draw("rect", { class: "solid", x: -8, y: -8, width: 16, height: 16 }), via: draw("path", { class: "open", d: "M0 -9L9 0L0 9L-9 0Z" }) }[end.kind];
    const label = `${NAMES[end.kind]}${end.kind === "via" ? ` ${end.row + 1}: arrows move it, Delete takes it out` : ": arrows move it, with Shift farther"}`;
    const group = mark(...end.at, label, [shape], () => {}, { "data-key": `${end.kind} ${end.row ?? ""}` });
    group.addEventListener("keydown", (event) => {
      const step = (event.shiftKey ? 40 : 8) / view.k;
      const by = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, step], ArrowDown: [0, -step] }[event.key];
      if (by) { move(end, end.at[0] + by[0], end.at[1] + by[1]); event.preventDefault(); event.stopPropagation(); }
      if (event.key === "Delete" && end.kind === "via") change("", (now) => { now.entries["trip.via"].splice(end.row, 1); });
    });
    marks.push(group);
  }
  if (mode === "area" && corners.length) marks.push(draw("polyline", { class: "pending", points: corners.map(([x, y]) => `${toX(x)},${toY(y)}`).join(" ") }), ...corners.map(([x, y]) => draw("circle", { class: "ring", r: 4, cx: toX(x), cy: toY(y) })));
  if (mode) marks.push(draw("path", { class: "cross", d: `M${view.width / 2 - 12} ${view.height / 2}h24M${view.width / 2} ${view.height / 2 - 12}v24` }));
  byId("marks").replaceChildren(...marks);
  const again = key && [...byId("marks").querySelectorAll("g[tabindex]")].find((one) => one.dataset.key === key);
  if (again) again.focus({ preventScroll: true });
}
function drag(event, end) {
  event.preventDefault();
  event.stopPropagation();
  const box = byId("map").getBoundingClientRect();
  let at = null;
  const on = (moved) => {
    at = [fromX(moved.clientX - box.left), fromY(moved.clientY - box.top)];
    const shape = [...byId("marks").querySelectorAll("g[tabindex]")].find((one) => one.dataset.key === `${end.kind} ${end.row ?? ""}`);
    if (shape) shape.setAttribute("transform", `translate(${toX(at[0])} ${toY(at[1])})`);
  };
  const off = () => {
    window.removeEventListener("pointermove", on);
    window.removeEventListener("pointerup", off);
    if (at) move(end, ...at);
  };
  window.addEventListener("pointermove", on);
  window.addEventListener("pointerup", off);
}

// Setting things on the map ----------------------------------------------------------------------
let mode = null;
let corners = [];
const MODE_WORDS = { start: "Touch the map where the walk starts.", home: "Touch the map where home is.", via: "Touch the map where you have to pass.",
  area: "Touch the map at each corner of what is closed, then close the area. With the keyboard: move the map under the cross, Enter sets a corner." };
function setMode(next) {
  mode = mode === next ? null : next;
  corners = [];
  for (const button of document.querySelectorAll("[data-mode]")) button.setAttribute("aria-pressed", String(button.dataset.mode === mode));
  byId("mode-words").textContent = mode ? `${MODE_WORDS[mode]} Esc leaves it.` : "";
  byId("area-buttons").hidden = mode !== "area";
  byId("map").classList.toggle("setting", Boolean(mode));
  drawMarks();
}
function put(x, y) {
  if (mode === "area") { corners.push([x, y]); drawMarks(); return; }
  const kind = mode;
  setMode(null);
  change("", (now) => {
    if (kind === "via") now.entries["trip.via"] = [...(now.entries["trip.via"] || []), written(x, y)];
    else now.entries[`trip.${kind}`] = written(x, y);
  });
}
function closeArea() {
  if (corners.length < 3) { byId("mode-words").textContent = "An area has three corners or more."; return; }
  const ring = corners.map(([x, y]) => latLon(x, y));
  setMode(null);
  change("", (now) => { now.areas.push(ring); });
}
const touches = new Map();
const NEAR_PX = 24;
function nearestMark(event) {
  const box = byId("map").getBoundingClientRect();
  const marks = [...byId("marks").querySelectorAll("g[tabindex]")].map((one) => {
    const [x, y] = one.getAttribute("transform").match(/-?[\d.]+/g).map(Number);
    return [Math.hypot(x - (event.clientX - box.left), y - (event.clientY - box.top)), one.dataset.key];
  });
  const [off, key] = marks.sort((a, b) => a[0] - b[0])[0] || [Infinity, ""];
  return off < NEAR_PX ? key : "";
}
function pointerDown(event) {
  const end = mode ? null : ends().find((one) => `${one.kind} ${one.row ?? ""}` === nearestMark(event));
  if (end) { drag(event, end); return; }
  byId("map").setPointerCapture(event.pointerId);
  touches.set(event.pointerId, { x: event.clientX, y: event.clientY, moved: 0 });
}
function pointerMove(event) {
  const before = touches.get(event.pointerId);
  if (!before) return;
  const other = [...touches].find(([id]) => id !== event.pointerId);
  if (other) {
    const box = byId("map").getBoundingClientRect();
    const spread = (a, b) => Math.max(Math.hypot(a.x - b.x, a.y - b.y), 1);
    const here = { x: event.clientX, y: event.clientY };
    zoom(spread(here, other[1]) / spread(before, other[1]), (here.x + other[1].x) / 2 - box.left, (here.y + other[1].y) / 2 - box.top);
    before.moved = 99;
  } else {
    view.x -= (event.clientX - before.x) / view.k;
    view.y += (event.clientY - before.y) / view.k;
    look();
  }
  before.moved += Math.abs(event.clientX - before.x) + Math.abs(event.clientY - before.y);
  before.x = event.clientX;
  before.y = event.clientY;
}
function pointerUp(event) {
  const before = touches.get(event.pointerId);
  touches.delete(event.pointerId);
  if (!before || before.moved > 6 || event.type === "pointercancel" || !ground) return;
  const box = byId("map").getBoundingClientRect();
  const [x, y] = [fromX(event.clientX - box.left), fromY(event.clientY - box.top)];
  if (mode) { put(x, y); return; }
  const key = nearestMark(event);
  if (key.startsWith("crossing ")) { toggle(ground.crossings.find((one) => `crossing ${one.name}` === key)); return; }
  if (key.startsWith("area ")) { change("", (now) => { now.areas.splice(Number(key.slice(5)), 1); }); return; }
  if (!told) return;
  const stop = key.startsWith("stop ") && told.live.places.find((one) => `stop ${one.mark}` === key);
  if (stop) { byId("touched").textContent = `Stop ${stop.mark}: ${stop.name}, ${stop.why}`; return; }
  const found = [...told.live.care.map((one) => [one, `Take care, ${one.mark}, ${one.words}`]), ...told.live.places.map((one) => [one, `${one.mark ? `Stop ${one.mark}: ` : ""}${one.name}${one.name === one.kind ? "" : ` (${one.kind})`}: ${one.why}`])]
    .map(([one, words]) => [Math.hypot(one.x - x, one.y - y), words]).sort((a, b) => a[0] - b[0])[0];
  if (found && found[0] * view.k < 22) byId("touched").textContent = found[1];
}
function mirror() {
  if (!ground) return;
  const rows = shownCrossings().map((one) => {
    const tick = make("input", { type: "checkbox", checked: isShut(one) });
    tick.addEventListener("change", () => toggle(one));
    return make("label", { class: "check" }, tick, `${one.name}${one.over ? `, over ${one.over}` : ""}: shut`);
  });
  const areas = state.areas.map((ring, row) => {
    const open = make("button", { type: "button" }, `Open area ${row + 1} again`);
    open.addEventListener("click", () => change("", (now) => { now.areas.splice(row, 1); }));
    return open;
  });
  byId("mirror-list").replaceChildren(make("p", { class: "quiet" }, "Start, home and places to pass are set by their coordinates under “Where and when”."),
    make("h3", {}, "Bridges and fords"), ...rows, make("h3", {}, "Closed areas"), ...(areas.length ? areas : [make("p", {}, "None.")]));
}

// The profile ------------------------------------------------------------------------------------
function drawProfile() {
  const box = byId("profile");
  box.replaceChildren();
  byId("profile-title").textContent = "Height along the way.";
  if (!told) return;
  const { live } = told;
  const way = live.ways[0];
  const [high, low] = [Math.max(...way.h), Math.min(...way.h)];
  const end = way.s.at(-1);
  const tall = Math.max(high - low, 600);
  const px = (s) => (700 * s) / end;
  const py = (h) => 155 - (125 * (h - low)) / tall;
  for (const piece of lightOf(live)) {
    if (piece.name !== "day") box.append(draw("rect", { class: piece.name === "night" ? "night" : "twilight", x: px(piece.from), y: 0, width: Math.max(px(piece.to) - px(piece.from), 0), height: 170 }));
  }
  hourRows(live).forEach((hour, row) => {
    box.append(draw("path", { class: "tick", d: `M${px(hour.ends)} 160V170` }));
    if (row === chosenHour) box.append(draw("rect", { class: "chosen", x: px(hour.starts), y: 1, width: px(hour.ends) - px(hour.starts), height: 168 }));
  });
  box.append(draw("polyline", { class: "line", points: way.s.map((s, row) => `${px(s).toFixed(1)},${py(way.h[row]).toFixed(1)}`).join(" ") }));
  for (const [from, to] of way.rough) box.append(draw("path", { class: "rough", d: `M${px(from)} ${py(between(from, way.s, way.h))}L${px(to)} ${py(between(to, way.s, way.h))}` }));
  const height = (h) => `${Math.round(h / 10 / live.units.short_m)} ${live.units.short}`;
  byId("profile-title").textContent = live.heights
    ? `Height along the way: ${height(low)} to ${height(high)} over ${(end / live.units.long_m).toFixed(1)} ${live.units.long}. Dots: twilight. Strokes: dark. Ticks: full hours.`
    : "The heights along this way are not known: it counts as flat.";
}

// Asking others, when the person has agreed -------------------------------------------------------
const fault = (said) => said.faults.map(([, problem]) => problem).join(" ");
async function findPlace(agreed) {
  const name = byId("find-name").value;
  byId("find-buttons").replaceChildren();
  byId("find-words").textContent = agreed ? "Asking." : "";
  const said = await (await ask("/find", { name, agreed })).json();
  byId("find-words").textContent = said.faults ? `Not found: ${fault(said)}` : said.asks || said.found;
  const button = (words, act) => { const made = make("button", { type: "button" }, words); made.addEventListener("click", act); return made; };
  if (said.asks) byId("find-buttons").replaceChildren(button("Ask it", () => findPlace(true)));
  if (said.at) byId("find-buttons").replaceChildren(...["start", "home"].map((end) => button(`Use it as ${end}`, () => change("", (now) => { now.entries[`trip.${end}`] = said.at; }))));
}
async function lookAhead() {
  const said = await (await ask("/look", { state })).json();
  byId("look-words").replaceChildren(...(said.words || [fault(said)]).map((words) => make("li", {}, words)));
  byId("fetch").hidden = !said.words;
}
async function bring() {
  const reader = (await ask("/fetch", { state })).body.pipeThrough(new TextDecoderStream()).getReader();
  let rest = "";
  for (;;) {
    const { value, done } = await reader.read();
    if (done) break;
    const lines = (rest + value).split("\n");
    rest = lines.pop();
    for (const line of lines.map((one) => JSON.parse(one))) {
      if (line.line === "stage" || line.line === "done") byId("fetch-words").textContent = line.words;
      else if (line.faults) byId("fetch-words").textContent = `Not fetched: ${fault(line)}`;
      if (line.line === "done") later(0);
    }
  }
}

// Keeping ----------------------------------------------------------------------------------------
async function save(overwrite) {
  const sent = copy(state);
  try {
    const said = await (await ask("/save", { state: sent, overwrite })).json();
    if (said.faults) { faults(said.faults); byId("save-words").textContent = "Not saved: something needs a look first."; } else if (said.asks) {
      byId("ask-words").textContent = `${said.asks.join(" and ")} ${said.asks.length > 1 ? "are" : "is"} there already. Replace ${said.asks.length > 1 ? "them" : "it"}?`;
      byId("ask").showModal();
    } else {
      byId("save-words").textContent = `Saved: ${said.saved}. To print it without this page: walkhome plan ${said.saved}`;
      byId("drafted").hidden = true;
      const untouched = equal(state, sent);
      plan = copy(said.state);
      if (untouched) { state = copy(plan); past.length = 0; planTold = null; fill(); later(0); }
    }
  } catch (fault) {
    byId("save-words").textContent = `Not saved. ${fault.message}`;
  }
}
const keep = () => { if (state) fetch("/keep", { method: "POST", keepalive: true, headers: { "Content-Type": "application/json" }, body: JSON.stringify({ state }) }).catch(() => {}); };
async function stay() {
  for (;;) {
    try {
      const reader = (await ask("/stay")).body.getReader();
      while (!(await reader.read()).done);
    } catch { /* told below */ }
    await new Promise((done) => setTimeout(done, 1000));
    try { await ask("/desk.css"); } catch { lost(); return; }
  }
}

function fill() {
  const held = document.activeElement && document.activeElement.dataset ? document.activeElement.dataset.entry || document.activeElement.id : "";
  fillForm();
  fillBag();
  fillSwaps();
  mirror();
  besides();
  const again = held && (document.querySelector(`[data-entry="${CSS.escape(held)}"]`) || byId(held));
  if (again && document.activeElement === document.body) again.focus({ preventScroll: true });
}
async function begin() {
  start = await (await ask("/start")).json();
  state = copy(start.state);
  plan = copy(start.opened);
  byId("save").textContent = "Save";
  if (start.drafted) {
    byId("drafted").hidden = false;
    byId("drafted-words").textContent = start.changed_since
      ? "Unsaved work from before is shown, but the file has been changed since by someone else: look both through before you save."
      : "Unsaved work from before is shown.";
  }
  fill();
  answer();
  stay();
  const on = (id, act) => byId(id).addEventListener("click", act);
  on("undo", undo);
  on("back", () => goTo(plan));
  on("settle", () => { plan = copy(state); planTold = told; besides(); paint(); });
  on("forget", async () => { const said = await (await ask("/forget", {})).json(); byId("drafted").hidden = true; goTo(said.state); });
  on("add-row", () => {
    const cells = start.columns.map((name) => ({ item: "new item", purpose: "other", tier: "basic", quantity: "1" }[name] || ""));
    change("", (now) => { now.rows.push({ cells, origin: -1 }); });
    const entry = byId("bag").tBodies[0].lastElementChild.querySelector("input");
    entry.focus();
    entry.select();
  });
  for (const what of ["bag", "area"]) byId(`swap-${what}`).addEventListener("change", () => swap(what));
  on("find", () => findPlace(false));
  on("look", lookAhead);
  on("fetch", bring);
  on("save", () => save(false));
  on("ask-yes", () => { byId("ask").close(); save(true); });
  on("ask-no", () => byId("ask").close());
  on("nearer", () => zoom(1.6));
  on("farther", () => zoom(1 / 1.6));
  on("whole", whole);
  on("area-close", closeArea);
  on("area-drop", () => setMode(null));
  byId("form").addEventListener("submit", (event) => event.preventDefault());
  for (const button of document.querySelectorAll("[data-mode]")) button.addEventListener("click", () => { setMode(button.dataset.mode); if (mode) byId("map").focus(); });
  const map = byId("map");
  map.addEventListener("pointerdown", pointerDown);
  map.addEventListener("pointermove", pointerMove);
  map.addEventListener("pointerup", pointerUp);
  map.addEventListener("pointercancel", pointerUp);
  map.addEventListener("wheel", (event) => {
    if (!(event.ctrlKey || document.activeElement === map)) return;
    event.preventDefault();
    const box = map.getBoundingClientRect();
    zoom(Math.exp(-event.deltaY / 400), event.clientX - box.left, event.clientY - box.top);
  }, { passive: false });
  map.addEventListener("keydown", (event) => {
    const by = { ArrowLeft: [-60, 0], ArrowRight: [60, 0], ArrowUp: [0, 60], ArrowDown: [0, -60] }[event.key];
    if (by) { view.x += by[0] / view.k; view.y += by[1] / view.k; look(); } else if (event.key === "+") zoom(1.6);
    else if (event.key === "-") zoom(1 / 1.6);
    else if (event.key === "0") whole();
    else if (event.key === "Enter" && mode && event.target === map) put(view.x, view.y);
    else return;
    event.preventDefault();
  });
  document.addEventListener("keydown", (event) => {
    if (event.key !== "Escape" || byId("ask").open) return;
    if (mode) setMode(null); else undo();
  });
  window.addEventListener("pagehide", keep);
  window.addEventListener("beforeprint", () => paintNow());
  new ResizeObserver(() => { size(); look(); }).observe(map);
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", look);
}
begin().catch(lost);
