// Answers from the tables that stand in this file. Nothing here knows the model: it looks up and interpolates.
"use strict";
(async () => {
const DAYS = 90, DAY = 86400000, SVG = "http://www.w3.org/2000/svg";
const $ = id => document.getElementById(id);

// The tables: lengths and texts as JSON, behind them all numbers as 16-bit integers with a scale of each array. The low
// bytes of all stand before the high ones, and each number is kept less the one so many places before it.
async function unpacked() {
  const packed = Uint8Array.from(atob($("data").textContent.trim()), sign => sign.charCodeAt(0));
  const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream("gzip"));
  const bytes = await new Response(stream).arrayBuffer();
  const length = new DataView(bytes).getUint32(0, true);
  const facts = JSON.parse(new TextDecoder().decode(new Uint8Array(bytes, 4, length)));
  const parts = new Uint8Array(bytes, 4 + length), many = parts.length / 2, numbers = new Int16Array(many);
  for (let i = 0; i < many; i++) numbers[i] = parts[i] | parts[many + i] << 8;
  for (const {tables} of Object.values(facts.kinds)) for (const {at, size, lag} of Object.values(tables))
    for (let i = at + lag; i < at + size; i++) numbers[i] += numbers[i - lag];
  facts.read = (table, index) => numbers[table.at + index] * table.scale;
  return facts;
}

// Weights of a few knots about a place: a curve through four, or a line between two. Zero weights are left out.
function weights(knots, at, most) {
  const many = Math.min(most, knots.length), found = [];
  let right = knots.findIndex(knot => knot >= at);
  if (right < 0) right = knots.length;
  const first = Math.max(0, Math.min(right - many / 2 | 0, knots.length - many));
  for (let i = first; i < first + many; i++) {
    let weight = 1;
    for (let j = first; j < first + many; j++) if (j !== i) weight *= (at - knots[j]) / (knots[i] - knots[j]);
    if (weight) found.push([i, weight]);
  }
  return found;
}
const only = index => [[index, 1]];
const logs = knots => knots.map(Math.log), ends = knots => [knots[0], knots.at(-1)];

// The sum of a table over the knots of each axis.
function interpolated(facts, table, axes) {
  let sum = 0;
  const walk = (axis, index, weight) => {
    if (axis === axes.length) { sum += weight * facts.read(table, index); return; }
    for (const [at, part] of axes[axis]) walk(axis + 1, index * table.shape[axis] + at, weight * part);
  };
  walk(0, 0, 1);
  return sum;
}

// What the tables say of a case: {kind, fault, age, condition, earlier, price or null, energy, other}.
function lookedUp(facts, asked) {
  const kind = facts.kinds[asked.kind], fault = kind.faults[asked.fault], k = facts.knots, t = kind.tables;
  if (fault.group === null) return {refused: true};
  const age = weights(kind.ages, asked.age, 2), group = kind.groups.indexOf(fault.group);
  const of = (table, ...axes) => interpolated(facts, table, [...axes, age]);
  const hazard = Math.min(of(t.hazards, only(group), only(asked.earlier)) * kind.worn[asked.condition], k.hazards.at(-1));
  const failing = n => of(t.failing, only(n)), often = failing(asked.earlier), usual = failing(0);
  const priced = asked.price !== null, price = priced ? asked.price : kind.prices[2];
  const byPrice = priced ? weights(logs(kind.prices), Math.log(price), 4) : only(kind.prices.length);
  const byHazard = weights(logs(k.hazards), Math.log(hazard), 4), byEnergy = weights(kind.energies, asked.energy, 4);
  const [few, many] = k.failing.map(([at]) => at - usual), x = often - usual;
  const moved = (side, way) => of(t.moved, only(side),
    weights(logs(k.failing[side][1].map(at => k.hazards[at])), Math.log(hazard), 4),
    weights(logs(kind.prices), Math.log(price), 3), weights(ends(kind.energies), asked.energy, 2), only(way));
  // on after a repair there are ways: to run on, or to be replaced in a planned year; the limit is the greatest of theirs
  const ways = [...Array(t.limits.shape.at(-2)).keys()].map(way => of(t.limits, byHazard, byPrice, byEnergy, only(way))
    + (x && moved(0, way) * x * (x - many) / (few * (few - many)) + moved(1, way) * x * (x - few) / (many * (many - few)))
    + of(t.by_other_fuel, byHazard, only(way)) * (asked.other - kind.other_price) + (fault.spoils ? kind.spoiled : 0));
  const rough = weights(k.edgeAges, asked.age, 2), edgeEnergy = weights(k.edgeEnergies.map(at => kind.energies[at]), asked.energy, 3);
  const known = k.earlier[asked.earlier], last = k.earlier.length - 1;
  const n = known === null ? k.earlier[last] * (usual - failing(1)) / (failing(last) - failing(1)) : known;
  const worn = only(asked.condition), edgePrice = priced ? weights(logs(k.edgePrices.map(at => kind.prices[at])), Math.log(price), 3) : only(1);
  const base = priced ? kind.cost_of_new[0] + kind.cost_of_new[1] * price : kind.cost_of_new[2], byEarlier = weights(k.edgeEarlier, n, 3);
  const ageOfKind = weights(k.kindAges.map(at => k.edgeAges[at]), asked.age, 2), said = [];
  const dearest = at => weights(logs(ends(kind.prices)), Math.log(at), 2), used = at => weights(ends(kind.energies), at, 2);
  const written = (i, age, price, energy, money, power) => interpolated(facts, t.edges, [worn, byEarlier, age, price, energy, only(i)])
    + (group && interpolated(facts, t.by_kind, [only(group - 1), worn, byEarlier, ageOfKind, dearest(money), used(power), only(i)]));
  const row = k.between.indexOf(known), coarse = ageOfKind.map(([at, part]) => [k.kindAges[at], part]);
  for (let i = 0; i < t.edges.shape.at(-1); i++) {
    let share = written(i, rough, edgePrice, edgeEnergy, price, asked.energy);
    if (row >= 0) share += interpolated(facts, t.between, [only(row), only(group), worn, ageOfKind, only(i)])
      - written(i, coarse, only(1), only(1), kind.prices[2], kind.energies[1]);
    if (!priced) share += interpolated(facts, t.unpriced, [worn, byEarlier, rough, only(i)]);
    said.push(share * base + (fault.spoils ? interpolated(facts, t.spoiling, [rough, only(i)]) : 0));
  }
  const limits = ways.map((stands, way) => stands + said[way * k.ofAWay]), limit = Math.max(...limits);
  const plan = ways.indexOf(Math.max(...ways.slice(1)), 1), chosen = limits[0] >= limits[plan] ? 0 : plan;
  const [, ...beyond] = said.slice(chosen * k.ofAWay), edges = beyond.map(each => limit + each), paid = said.slice(ways.length * k.ofAWay);
  const clearRepair = Math.min(limit, edges[0]), clearOther = Math.max(limit, edges[3]);
  return {
    limit, low: edges[4], high: edges[5], new: base, usualPrice: kind.prices[2], clearRepair, clearOther,
    leaningRepair: Math.max(clearRepair, Math.min(limit, edges[1])), leaningOther: Math.min(clearOther, Math.max(limit, edges[2])),
    repairPaid: paid.slice(0, k.years.length), newPaid: paid.slice(k.years.length),
  };
}

// clear, leaning or close, and to which side.
function stateOf(found, quote) {
  const act = quote <= found.limit ? "repair" : "replace";
  if (quote <= found.clearRepair || quote > found.clearOther) return {act, state: "clear"};
  return {act, state: quote <= found.leaningRepair || quote > found.leaningOther ? "leaning" : "close"};
}

// What to mind of a fault in a place, for a year of manufacture: the names of the orders that stop it, and of the rest.
function minded(facts, kind, fault, place, made) {
  const eras = (facts.safety[place] || facts.safety[facts.region])[kind][fault];
  const [, stops, rest] = eras.findLast(([from]) => made >= from);
  return {stops, rest};
}

if (!("DecompressionStream" in window)) {
  $("old").textContent = "This browser is too old for this page.";
  $("old").hidden = false;
  return;
}
const facts = await unpacked();
window.pocket = {facts, lookedUp: asked => lookedUp(facts, asked), stateOf, minded: (...at) => minded(facts, ...at)};

// Words and numbers
const served = location.protocol !== "file:";
const STORE = "mendpoint.pocket", recall = name => served ? localStorage.getItem(`${STORE}.${name}`) : null;
const remember = (name, text) => { if (served) localStorage.setItem(`${STORE}.${name}`, text); };
let tongue = recall("language") || navigator.languages.map(each => each.slice(0, 2)).find(each => each in facts.languages) || "en";
let say, words, whole, fine, dates, moments;
function speak(language) {
  tongue = language in facts.languages ? language : "en";
  words = facts.languages[tongue];
  const locale = words.locale;
  say = (name, given = {}) => words.say[name].replace(/\{(\w+)\}/g, (gap, key) => key in given ? given[key] : gap);
  const money = digits => new Intl.NumberFormat(locale, {style: "currency", currency: facts.currency, minimumFractionDigits: digits, maximumFractionDigits: digits});
  whole = amount => money(0).format(amount);
  fine = (amount, digits) => money(digits).format(amount);
  dates = new Intl.DateTimeFormat(locale, {dateStyle: "long", timeZone: "UTC"});
  moments = new Intl.DateTimeFormat(locale, {dateStyle: "short", timeStyle: "short"});
}
const plain = number => new Intl.NumberFormat(words.locale, {maximumFractionDigits: 4}).format(number);
function about(amount) {
  const size = Math.abs(amount), step = size < 100 ? 5 : size < 1000 ? 10 : 50;
  return whole(step * Math.round(amount / step) + 0);
}
const typedMoney = amount => Number.isInteger(amount) ? whole(amount) : fine(amount, 2);

// Numbers as people type them: a mark before three digits parts thousands where the place writes it so.
function read(text) {
  const bare = text.replace(/[\s$€]/g, "");
  if (bare === "") return null;
  const group = words.decimal === "." ? "," : ".";
  const grouped = new RegExp(`^\\d{1,3}(\\${group}\\d{3})+(\\${words.decimal}\\d+)?$`);
  if (grouped.test(bare)) return Number(bare.replaceAll(group, "").replace(words.decimal, "."));
  return /^\d*[.,]?\d+$/.test(bare) && !/^\d+[.,]\d{3}$/.test(bare) || /^0?[.,]\d+$/.test(bare) || new RegExp(`^\\d+\\${words.decimal}\\d+$`).test(bare)
    ? Number(bare.replace(",", ".")) : NaN;
}

// Pieces of the page: text is only ever text.
function piece(name, text, kind) {
  const made = document.createElement(name);
  if (text !== undefined) made.textContent = text;
  if (kind) made.className = kind;
  return made;
}
function drawn(name, values, text) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(values)) made.setAttribute(key, value);
  if (text !== undefined) made.textContent = text;
  return made;
}
function fill(select, options, chosen) {
  select.replaceChildren(...options.map(([value, text]) => { const made = piece("option", text); made.value = value; return made; }));
  if (options.some(([value]) => value === chosen)) select.value = chosen;
}

// The quote ruler, as on the other pages: zones that differ by pattern and name, the limit a tick, the quote a marker.
const HATCH = {repair: "M-1,1 l2,-2 M0,6 l6,-6 M5,7 l2,-2", call: "", close: "M0,3 h6", other: "M-1,5 l2,2 M0,0 l6,6 M5,-1 l2,2"};
const anchor = at => at < .08 ? "start" : at > .92 ? "end" : "middle";
function ruler(found, quote) {
  const seen = [found.new, found.limit, ...[found.clearOther, quote].filter(each => each !== null && each <= 2.5 * found.new)];
  const most = Math.max(...seen), last = most > found.new ? 1.08 * most : found.new;
  const at = amount => Math.min(Math.max(amount / last, 0), 1), share = place => `${(100 * place).toFixed(2)}%`;
  const svg = drawn("svg", {class: "ruler", role: "img", "aria-label": told(found, quote, at), width: "100%", height: 84});
  const patterns = drawn("defs", {});
  for (const [name, path] of Object.entries(HATCH)) {
    const pattern = drawn("pattern", {id: `zone-${name}`, width: 6, height: 6, patternUnits: "userSpaceOnUse"});
    pattern.append(drawn("rect", {width: 6, height: 6, class: `zone-${name}`}), drawn("path", {d: path, class: `hatch-${name}`}));
    patterns.append(pattern);
  }
  svg.append(patterns);
  const ends = [0, ...[found.clearRepair, found.leaningRepair, found.leaningOther, found.clearOther].map(at), 1];
  ["repair", "call", "close", "call", "other"].forEach((name, i) => {
    if (ends[i + 1] - ends[i] > 1e-9)
      svg.append(drawn("rect", {x: share(ends[i]), y: 30, width: share(ends[i + 1] - ends[i]), height: 30, fill: `url(#zone-${name})`}));
  });
  for (const [name, from, to] of [["repair", 0, ends[1]], ["replace", ends[4], 1], ["call", ends[1], ends[4]]]) {
    const text = say(name);
    if (to - from > .023 * (text.length + 1)) svg.append(drawn("text", {class: "name", x: share((from + to) / 2), y: 50, "text-anchor": anchor((from + to) / 2)}, text));
  }
  const taken = [], doubtful = [found.clearRepair, found.clearOther];
  for (const amount of [...doubtful, last, 0]) {
    const stands = at(amount), text = about(amount), wide = .023 * (text.length + 1);
    const place = anchor(stands) === "end" ? Math.min(stands + wide / 2, 1) : stands;
    const left = place - {start: 0, middle: wide / 2, end: wide}[anchor(place)];
    const inside = amount >= 0 && amount <= last && (!doubtful.includes(amount) || stands > 0 && stands < 1);
    if (inside && taken.every(([from, to]) => left >= to || left + wide <= from)) {
      taken.push([left, left + wide]);
      svg.append(drawn("text", {x: share(place), y: 78, "text-anchor": anchor(place)}, text));
    }
  }
  if (found.limit > 0) {
    const tick = drawn("svg", {x: share(at(found.limit)), y: 0, overflow: "visible"});
    tick.append(drawn("path", {class: "limit", d: "M-5,67 h10 l-5,-7 z"}));
    svg.append(tick);
  }
  if (quote !== null) {
    const marker = drawn("svg", {class: "marker", x: share(at(quote)), y: 0, overflow: "visible"});
    marker.append(drawn("path", {d: "M-8,16 h16 l-8,14 z"}), drawn("text", {x: 0, y: 12, "text-anchor": anchor(at(quote))}, typedMoney(quote)));
    svg.append(marker);
  }
  return svg;
}
function told(found, quote, at) {
  const low = about(found.clearRepair), high = about(found.clearOther), ends = at(found.clearOther) < 1, said = [];
  if (found.clearOther <= 0) said.push(say("ruler_never"));
  else {
    if (found.clearRepair > 0) said.push(say("ruler_repair_to", {low}), ends ? say("ruler_between", {low, high}) : say("ruler_call_above"));
    else said.push(ends ? say("ruler_call_to", {high}) : say("ruler_any"));
    if (ends) said.push(say("ruler_above"));
  }
  if (quote !== null) said.push(say("ruler_quoted", {quote: typedMoney(quote)}));
  return said.join(" ");
}

// The form
const FIELDS = ["kind", "fault", "age", "quote", "price", "place", "condition", "earlier", "energy", "note"];
const field = name => $(name).value;
const unit = kind => facts.units[kind.fuel];
function placed() { return facts.places[field("place")]; }
function draw() {
  const kept = Object.fromEntries(FIELDS.map(name => [name, field(name)]));
  document.documentElement.lang = tongue;
  for (const each of document.querySelectorAll("[data-say]")) each.textContent = say(each.dataset.say);
  document.querySelector(".tongues").setAttribute("aria-label", say("language"));
  document.querySelector(".tongues").replaceChildren(...Object.entries(facts.languages).map(([code, language]) => {
    const made = piece("button", language.name);
    made.type = "button"; made.lang = code; made.setAttribute("aria-pressed", String(code === tongue));
    made.addEventListener("click", () => { remember("language", code); speak(code); draw(); });
    return made;
  }));
  const named = (list, names) => Object.keys(list).map(code => [code, names[code]]);
  fill($("kind"), [["", say("choose")], ...named(facts.kinds, words.kinds)], kept.kind);
  fill($("place"), named(facts.places, words.places), kept.place || facts.place);
  fill($("condition"), facts.conditions.map((name, at) => [String(at), say(name)]), kept.condition || "0");
  fill($("earlier"), facts.knots.earlier.map((n, at) => [String(at), say(n === null ? "unknown" : `earlier_${n}`)]), kept.earlier || "0");
  faults(kept.fault);
  $("shop").textContent = facts.shop;
  $("where").textContent = say(served ? "served" : "file");
  const made = new Date(facts.made), until = new Date(made.getTime() + DAYS * DAY), days = Math.floor((Date.now() - made) / DAY);
  $("made").textContent = say("made", {made: dates.format(made), until: dates.format(until)});
  $("old").textContent = say("old", {days: plain(days)});
  $("old").hidden = days <= DAYS;
  show();
}
function faults(chosen) {
  const kind = facts.kinds[field("kind")];
  fill($("fault"), [["", say("choose")], ...(kind ? Object.keys(kind.faults).map(code => [code, words.faults[code]]) : [])], chosen);
}

// What stands in the fields; what cannot be used is said at its field and kept.
function asked() {
  const kind = facts.kinds[field("kind")], errors = {};
  const number = (name, low, high, shown) => {
    const value = read(field(name));
    if (value === null) return null;
    if (!(value >= low && value <= high)) errors[name] = say("range", {name: shown(field(name)), low: shown(low), high: shown(high)});
    return value;
  };
  const text = value => typeof value === "string" ? value.trim() : plain(value);
  const found = {kind: field("kind"), fault: field("fault"), condition: Number(field("condition")), earlier: Number(field("earlier"))};
  found.age = number("age", 0, kind ? kind.ages.at(-1) : 40, text);
  const sum = value => typeof value === "string" ? value.trim() : whole(value);
  found.quote = number("quote", 0, 100000, sum);
  found.price = kind ? number("price", kind.prices[0], kind.prices.at(-1), sum) : null;
  if (kind) {
    const {per} = unit(kind), rate = value => typeof value === "string" ? value.trim() : fine(value, 2);
    const low = Math.ceil(100 * kind.energies[0] * per) / 100, high = Math.floor(100 * kind.energies.at(-1) * per) / 100;
    const typed = number("energy", low, high, rate);
    found.energy = typed === null ? placed()[kind.fuel] : typed / per;
    found.typedEnergy = typed === null ? null : typed / per;
    found.other = placed().electricity;
  }
  for (const name of ["age", "quote", "price", "energy"]) {
    $(`${name}-error`).textContent = errors[name] || "";
    $(name).setAttribute("aria-invalid", String(name in errors));
    $(name).setAttribute("aria-describedby", `${name}-error`);
  }
  found.errors = Object.keys(errors).length;
  return found;
}

let message = "";
function show() {
  const kind = facts.kinds[field("kind")], found = asked(), answer = $("answer");
  $("price-name").textContent = kind ? say(kind.installed ? "price_installed" : "price", {usual: about(kind.prices[2])}) : say("price_plain");
  $("energy-name").textContent = kind ? say(`energy_${kind.fuel}`, {unit: say(unit(kind).name), usual: fine(placed()[kind.fuel] * unit(kind).per, 2)}) : say("energy");
  const stop = $("stop"), fault = kind && kind.faults[found.fault];
  stop.hidden = $("safety").hidden = true;
  message = "";
  answer.replaceChildren();
  if (fault) safety(found, fault);
  if (!fault || found.age === null) answer.append(piece("p", say("waiting")));
  else if (found.errors) answer.append(piece("p", say("mend")));
  else money(found, answer);
  for (const [id, start] of [["sms", "sms:?body="], ["mail", `mailto:?subject=${encodeURIComponent(words.kinds[found.kind] || "")}&body=`]]) {
    if (message) $(id).href = start + encodeURIComponent(message); else $(id).removeAttribute("href");
  }
  $("keep").disabled = !message;
  kept();
}
function safety(found, fault) {
  const age = found.age === null || Number.isNaN(found.age) ? 0 : found.age;
  const {stops, rest} = minded(facts, found.kind, found.fault, field("place"), facts.year - age);
  const textOf = name => (words.cautionsIn[field("place")] || {})[name] || words.cautions[name];
  if (stops.length) {
    const named = words.faults[found.fault], head = say("stop", {fault: named[0].toLowerCase() + named.slice(1)});
    $("stop").replaceChildren(piece("p", head, "verdict"), ...stops.map(name => piece("p", textOf(name))));
    $("stop").hidden = false;
    message = [`${head}.`, ...stops.map(textOf)].join(" ");
  }
  if (!rest.length) return;
  const list = piece("ul");
  list.append(...rest.map(name => piece("li", textOf(name))));
  $("safety").replaceChildren(piece("h2", say("safety")), list);
  $("safety").hidden = false;
}
function money(found, answer) {
  const kind = facts.kinds[found.kind], fault = kind.faults[found.fault], quote = found.quote, stopped = message;
  const what = lookedUp(facts, found);
  const holder = stopped ? piece("details") : answer;
  if (stopped) { holder.append(piece("summary", say("once_safe"))); answer.append(holder); }
  const promised = placed().guarantee[found.kind] || 0;
  if (found.age < promised) holder.append(piece("p", say("claim"), "verdict"), piece("p", say("claim_how", {years: plain(promised)})));
  else if (found.age < kind.warranty) holder.append(piece("p", say("ask_maker"), "verdict"), piece("p", say("ask_maker_how")));
  if (what.refused) {
    holder.append(piece("p", say("refused"), "verdict"));
    message = stopped || say("refused");
    return;
  }
  const state = quote === null ? null : stateOf(what, quote);
  const head = what.limit <= 0 ? say("never") : state === null ? say("open", {limit: about(what.limit)})
    : say(state.state === "close" ? "close" : state.state === "leaning" ? `leaning_${state.act}` : `do_${state.act}`);
  const said = what.limit <= 0 ? say("negative") : say(quote === null ? "worth" : "worth_quoted",
    {limit: about(what.limit), low: about(Math.max(0, what.low)), high: about(what.high), quote: quote === null ? "" : typedMoney(quote)});
  holder.append(piece("p", head, "verdict"), piece("p", said), ruler(what, quote));
  holder.append(paid(what, quote));
  if (found.age > kind.beyond) holder.append(piece("p", say("beyond"), "small"));
  if (!stopped) message = `${words.kinds[found.kind]}: ${head}. ${said}${facts.shop ? ` ${facts.shop}` : ""}`;
}
function paid(what, quote) {
  const table = piece("table"), head = piece("tr"), years = facts.knots.years;
  const row = (name, amounts) => {
    const made = piece("tr"), first = piece("th", name);
    first.scope = "row";
    made.append(first, ...amounts.map(amount => piece("td", about(amount))));
    return made;
  };
  const corner = piece("th", say("after")); corner.scope = "col";
  head.append(corner, ...years.map(year => { const made = piece("th", say(year === 1 ? "year" : "years", {n: plain(year)})); made.scope = "col"; return made; }));
  table.append(piece("caption", say("paid")), head);
  if (quote !== null) table.append(row(say("repaired"), what.repairPaid.map(amount => amount + quote)));
  table.append(row(say("bought"), what.newPaid));
  return table;
}

// Visits: kept by the browser where a server gave the page; else in memory, since any other file could read the store.
let visits = [];
try { visits = JSON.parse(recall("visits") || "[]"); } catch { visits = []; }
function entries(found) {
  const home = {place: field("place")}, kind = facts.kinds[found.kind];
  if (found.typedEnergy !== null) home[`${kind.fuel}_price`] = found.typedEnergy;
  const unitThere = {class: found.kind, fault: found.fault, age: found.age}, repair = {}, earlier = facts.knots.earlier[found.earlier];
  if (earlier !== null) unitThere.earlier_repairs = earlier;
  if (found.condition) repair.remaining_life_factor = facts.factors[found.condition];
  if (found.quote !== null) repair.quote = found.quote;
  return {title: field("note"), appliance: unitThere, household: home, repair, replace: [found.price === null ? {} : {price: found.price}]};
}
// The same as the fields of the program's own page hold it, so that the visit opens there.
function fields(found) {
  const kind = facts.kinds[found.kind], text = number => number === null ? "" : String(number);
  const page = {
    kind: found.kind, group: kind.group, fault: found.fault, place: field("place"), title: field("note"), age: text(found.age),
    quote: text(found.quote), price: text(found.price), earlier_repairs: text(facts.knots.earlier[found.earlier]),
    remaining_life_factor: facts.factors[found.condition],
  };
  if (found.typedEnergy !== null) Object.assign(page, {[`${kind.fuel}_price`]: text(found.typedEnergy), [`${kind.fuel}_priced`]: facts.ownPrice});
  return page;
}
const quoted = ({entries: {repair}}) => Number.isFinite(repair.quote) ? typedMoney(repair.quote) : "";
function kept() {
  $("kept").textContent = say(visits.length ? "kept" : "none", {n: plain(visits.length)});
  $("list").replaceChildren(...visits.map(visit => piece("li", [visit.entries.title, words.kinds[visit.entries.appliance.class] || "", quoted(visit), moments.format(new Date(visit.when))].filter(Boolean).join(" · "))));
  $("take").disabled = $("clear").disabled = !visits.length;
}
$("keep").addEventListener("click", () => {
  const found = asked();
  if (found.errors || !message) return;
  visits.push({id: crypto.randomUUID(), when: new Date().toISOString(), entries: entries(found), page: fields(found)});
  remember("visits", JSON.stringify(visits));
  kept();
});
$("take").addEventListener("click", () => {
  const file = new Blob([JSON.stringify({format: "mendpoint visits", layout: 1, stamp: document.documentElement.dataset.stamp, visits}, null, 1)], {type: "application/json"});
  const link = piece("a");
  link.href = URL.createObjectURL(file);
  link.download = `visits-${new Date().toISOString().slice(0, 10)}.json`;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10000);
});
$("clear").addEventListener("click", () => {
  if (!confirm(say("clear_sure"))) return;
  visits = [];
  remember("visits", "[]");
  kept();
});
window.addEventListener("beforeunload", event => { if (!served && visits.length) event.preventDefault(); });

$("form").addEventListener("submit", event => event.preventDefault());
$("form").addEventListener("input", event => {
  if (event.target.id === "kind") { faults(""); $("price").value = $("energy").value = ""; }
  if (event.target.id === "place") { remember("place", field("place")); $("energy").value = ""; }
  show();
});
speak(tongue);
draw();
if (recall("place") in facts.places) { $("place").value = recall("place"); show(); }

// Where a server gave it over a line that browsers trust, the phone keeps the page itself.
if (served && isSecureContext && "serviceWorker" in navigator) {
  const trusted = window.trustedTypes ? trustedTypes.createPolicy("pocket", {createScriptURL: () => new URL("worker.js", location.href).href}) : null;
  navigator.serviceWorker.register(trusted ? trusted.createScriptURL("") : "worker.js").then(async () => {
    (await navigator.serviceWorker.ready).active.postMessage("keep");
  }, () => { $("where").textContent = say("not_kept"); });
}
document.body.dataset.ready = "yes";
})();
