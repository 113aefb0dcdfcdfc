// What is told beside the picture; all texts go in as text, never as HTML.
const stageOf = (frame) => data.stages.findIndex((stage) => frame >= stage.first && frame <= stage.last);
const fieldNumber = (key) => data.fields.findIndex((field) => field.key === key);

function valueText(field, value) {
  return `${value.toFixed(field.digits).replace(/^-(0\.?0*)$/, "$1")} ${field.unit}`.trim();
}

function stateText(frame) {
  const { phase, stroke } = data.frames[frame], stage = data.stages[stageOf(frame)];
  const what = { start: "before the stroke", forming: "under load", springback: "after springback" }[phase];
  const where = phase === "forming" && stroke !== null ? `, stroke ${stroke.toFixed(2)} mm` : "";
  // Isolated, so that a name written from right to left turns nothing else round.
  return `${stage.number} \u2068${stage.name}\u2069: ${what}${where}`
    + ` (state ${frame - stage.first + 1} of ${stage.last - stage.first + 1})`;
}

function element(tag, text, name) {
  const made = document.createElement(tag);
  made.textContent = text;
  if (name) made.className = name;
  return made;
}

function tellLegend() {
  const field = data.fields[at.field], [low, high] = limitsOf(at.field);
  get("bar").style.background = `linear-gradient(to right, ${data.colours[scaleOf(at.field)].join(",")})`;
  get("ticks").replaceChildren(...[low, 0.5 * (low + high), high].map((value) =>
    element("span", valueText({ ...field, unit: "" }, value))));
  get("unit").textContent = field.unit ? `${field.label} [${field.unit}]` : field.label;
}

function thinning(frame, place) {
  const first = between(data.meshes[data.frames[frame].mesh].first, place);
  return 100 * (1 - between(channel(frame, GEOMETRY), place) / first);
}

function rows() {
  const place = placeOf(at.frame, at.way);
  if (at.way === null) return [];
  const where = [[data.place, `${at.way.toFixed(2)} mm`]];
  if (place === null) return [...where, ["now", "cut off"]];
  const [r, z] = sheet(at.frame).slice(0, 2).map((values) => between(values, place));
  const fields = data.fields.map((field, k) =>
    [field.label, valueText(field, between(channel(at.frame, GEOMETRY + k), place))]);
  return [...where, ["radius now", `${r.toFixed(2)} mm`], ["height now", `${z.toFixed(2)} mm`],
    ...fields, ["thinning", `${thinning(at.frame, place).toFixed(2)} %`]];
}

function tellValues() {
  const told = rows(), list = get("values"), shown = told.length ? told : [["no place chosen", ""]];
  while (list.children.length > shown.length) list.lastChild.remove();
  while (list.children.length < shown.length) {
    const row = element("div", "");
    row.append(element("dt", ""), element("dd", ""));
    list.append(row);
  }
  shown.forEach((texts, row) => texts.forEach((text, cell) => {
    const one = list.children[row].children[cell];
    if (one.textContent !== text) one.textContent = text;
  }));
  const ways = wayOf(0), last = ways[ways.length - 1];
  get("way").value = at.way === null ? 0 : Math.round(1000 * at.way / last);
  get("way").setAttribute("aria-valuetext",
    told.map(([name, value]) => `${name} ${value}`).join(", ") || "no place chosen");
}

function storyRow(stage) {
  const place = placeOf(stage.last, at.way), row = element("tr", "");
  const name = element("td", "", "text");
  name.append(element("bdi", `${stage.number} ${stage.name}`));
  const strain = fieldNumber("equivalent_plastic_strain");
  const cells = place === null ? ["cut off", "-", "-", "-"] : [
    between(channel(stage.last, GEOMETRY), place).toFixed(4),
    thinning(stage.last, place).toFixed(2),
    strain < 0 ? "-" : between(channel(stage.last, GEOMETRY + strain), place).toFixed(3),
    between(channel(stage.last, R), place).toFixed(2),
  ];
  row.append(name, ...cells.map((cell) => element("td", cell, "number")));
  return row;
}

// The sheet before the first stage; its radius is known of a flat blank alone.
function firstRow() {
  const place = placeOf(0, at.way), row = element("tr", ""), first = data.meshes[data.frames[0].mesh].first;
  const cells = [between(first, place).toFixed(4), "0.00", "-", data.flat ? at.way.toFixed(2) : "-"];
  row.append(element("td", data.flat ? "flat blank" : "before the first stage", "text"),
    ...cells.map((cell) => element("td", cell, "number")));
  return row;
}

// The story is that of a place: a state only marks its stage in it.
let storyOf;
function tellStory() {
  if (storyOf !== at.way) {
    storyOf = at.way;
    get("story").replaceChildren(...(at.way === null ? [] : [firstRow(), ...data.stages.map(storyRow)]));
  }
  const current = 1 + stageOf(at.frame);
  [...get("story").children].forEach((row, k) => {
    if (k === current) row.setAttribute("aria-current", "true"); else row.removeAttribute("aria-current");
  });
}

function tellState() {
  const number = stageOf(at.frame), stage = data.stages[number], slider = get("state");
  get("stage").value = String(number);
  slider.max = stage.last - stage.first;
  slider.value = at.frame - stage.first;
  const text = stateText(at.frame);
  slider.setAttribute("aria-valuetext", text);
  get("told").textContent = text;
  canvas.setAttribute("aria-label", `Section of the sheet between its tools, ${text}`);
  get("tools-label").hidden = !stage.tools.length;
}
