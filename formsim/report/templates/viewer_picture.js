// The picture: colours, where the eye is, sheet, tools, the place that is read, a ruler.
const shades = {};
for (const [name, stops] of Object.entries(data.colours)) {
  const parts = stops.map((stop) => [1, 3, 5].map((k) => parseInt(stop.slice(k, k + 2), 16)));
  shades[name] = Array.from({ length: SHADES }, (_, k) => {
    const mixed = [0, 1, 2].map((c) =>
      between(parts.map((part) => part[c]), k / (SHADES - 1) * (parts.length - 1)));
    return `rgb(${mixed.map(Math.round).join(",")})`;
  });
}
const scaleOf = (field) => (data.fields[field].signed ? "signed" : "level");

let look = {};
function readLook() {
  const style = getComputedStyle(document.documentElement);
  for (const name of ["ink", "soft", "line", "accent", "alarm", "tool", "tool-edge", "canvas"]) {
    look[name] = style.getPropertyValue(`--${name}`).trim();
  }
}

let seen = [1, 1], ratio = 1;
const size = () => seen;
const toX = (r) => (r - eye.r) * eye.scale + seen[0] / 2;
const toY = (z) => seen[1] / 2 - (z - eye.z) * eye.scale;
const toR = (x) => (x - seen[0] / 2) / eye.scale + eye.r;
const inPixels = () => pen.setTransform(ratio, 0, 0, ratio, 0, 0);
// The pen in mm, mirrored on the left, so that paths are made once and drawn at any zoom.
const inMillimetres = (side, up = 0) => {
  const k = ratio * eye.scale;
  pen.setTransform(side * k, 0, 0, -k, ratio * toX(0), ratio * toY(up));
};
const toZ = (y) => eye.z - (y - seen[1] / 2) / eye.scale;

const boxes = new Map();
function boxOf(stage) {
  if (!boxes.has(stage)) {
    let [right, low, high] = [0, Infinity, -Infinity];
    for (let k = data.stages[stage].first; k <= data.stages[stage].last; k++) {
      const own = decoded(k);
      right = Math.max(right, own[R].high);
      low = Math.min(low, own[Z].low);
      high = Math.max(high, own[Z].high);
    }
    boxes.set(stage, [right, low, high]);
  }
  return boxes.get(stage);
}

function showWhole() {
  const [right, low, high] = boxOf(stageOf(at.frame)), [width, height] = size();
  const free = 0.86;
  eye.r = 0;
  eye.z = 0.5 * (low + high);
  eye.scale = free * Math.min(width / (2 * right), (height - 40) / Math.max(high - low, 0.2 * right));
  eye.moved = false;
}

function zoom(factor, x = size()[0] / 2, y = size()[1] / 2) {
  const r = toR(x), z = toZ(y);
  eye.scale = Math.min(20000, Math.max(0.5, eye.scale * factor));
  eye.r += r - toR(x);
  eye.z += z - toZ(y);
  eye.moved = true;
  repaint();
}

function move(dx, dy) {
  eye.r -= dx / eye.scale;
  eye.z += dy / eye.scale;
  eye.moved = true;
  repaint();
}

function showThinnest() {
  const [r, z] = sheet(at.frame), place = thinnest(at.frame);
  const thickness = channel(at.frame, GEOMETRY)[place];
  hold(wayAt(at.frame, place), 1);
  eye.r = r[place];
  eye.z = z[place];
  eye.scale = Math.max(eye.scale, 0.2 * size()[1] / thickness / 4);
  eye.moved = true;
  repaint();
}

function paint() {
  seen = [canvas.clientWidth, canvas.clientHeight];
  const [width, height] = seen;
  ratio = devicePixelRatio || 1;
  if (canvas.width !== Math.round(width * ratio) || canvas.height !== Math.round(height * ratio)) {
    canvas.width = Math.round(width * ratio);
    canvas.height = Math.round(height * ratio);
  }
  if (!eye.moved) showWhole();
  inPixels();
  pen.fillStyle = look.canvas;
  pen.fillRect(0, 0, width, height);
  if (get("tools").checked) for (const side of [-1, 1]) paintTools(side);
  paintAxis(height);
  for (const side of [-1, 1]) paintSheet(side);
  if (get("tools").checked) nameTools(width, height);
  paintPoint();
  paintRuler(width, height);
  canvas.dataset.frame = at.frame;
}

function standing() {
  const frame = data.frames[at.frame], tools = data.stages[stageOf(at.frame)].tools;
  return tools.map((tool, k) => [tool, frame.tools[k]]).filter(([, z]) => z !== null && z !== undefined);
}

const outlines = new Map();
function outlineOf(tool) {
  if (!outlines.has(tool)) {
    const path = new Path2D();
    for (const [r, z] of tool.points) path.lineTo(r, z);
    path.closePath();
    outlines.set(tool, path);
  }
  return outlines.get(tool);
}

function paintTools(side) {
  pen.fillStyle = look.tool;
  pen.strokeStyle = look["tool-edge"];
  pen.lineWidth = 1 / eye.scale;
  for (const [tool, up] of standing()) {
    inMillimetres(side, up);
    pen.fill(outlineOf(tool));
    pen.stroke(outlineOf(tool));
  }
  inPixels();
}

// Where the name of a tool is free: to the right of its outline as one walks, far from the sheet.
function freeSpot(tool, up, width, height) {
  const line = tool.points.slice(0, -1).map(([r, z]) => [toX(r), toY(z + up)]);
  const [r, z] = sheet(at.frame), half = 4 * tool.name.length + 6;
  let best = null, most = 12;
  const stride = Math.ceil(line.length / 100);
  for (let k = 1; k + 1 < line.length; k += stride) {
    const dx = line[k + 1][0] - line[k - 1][0], dy = line[k + 1][1] - line[k - 1][1];
    const length = Math.hypot(dx, dy) || 1;
    const x = line[k][0] - dy / length * (14 + half), y = line[k][1] + dx / length * 22;
    if (x < half || x > width - half || y < 45 || y > height - 40) continue;
    let free = Infinity;
    for (let j = 0; j < r.length; j += 8) {
      const across = Math.max(0, Math.abs(toX(r[j]) - x) - half);
      free = Math.min(free, Math.hypot(across, toY(z[j]) - y));
    }
    if (Math.min(free, 60) > most) [best, most] = [[x, y], Math.min(free, 60)];
  }
  return best;
}

function nameTools(width, height) {
  pen.font = "12px system-ui, sans-serif";
  pen.textAlign = "center";
  pen.textBaseline = "middle";
  pen.lineWidth = 3;
  pen.strokeStyle = look.tool;
  pen.fillStyle = look.ink;
  for (const [tool, up] of standing()) {
    const spot = freeSpot(tool, up, width, height);
    if (!spot) continue;
    pen.strokeText(tool.name, ...spot);
    pen.fillText(tool.name, ...spot);
  }
}

function paintAxis(height) {
  pen.strokeStyle = look.soft;
  pen.lineWidth = 0.8;
  pen.setLineDash([12, 3, 2, 3]);
  pen.beginPath();
  pen.moveTo(toX(0), 0);
  pen.lineTo(toX(0), height);
  pen.stroke();
  pen.setLineDash([]);
}

// Path round the sheet from one line to another, right of the axis, in mm.
function roundOf(first, last, [r, z, dr, dz]) {
  const path = new Path2D();
  for (let k = first; k <= last; k++) path.lineTo(r[k] - dr[k], z[k] - dz[k]);
  for (let k = last; k >= first; k--) path.lineTo(r[k] + dr[k], z[k] + dz[k]);
  path.closePath();
  return path;
}

// The sheet of a state as pieces of one shade each; made once for both sides and any zoom.
let pieces = { key: "" };
function piecesOf(frame, field) {
  const [low, high] = limitsOf(field), key = `${frame} ${field} ${low} ${high}`;
  if (pieces.key === key) return pieces;
  const values = channel(frame, GEOMETRY + field), shape = sheet(frame), n = values.length;
  const shadeOf = (k) => {
    const share = (0.5 * (values[k] + values[k + 1]) - low) / (high - low);
    return Math.round(Math.min(1, Math.max(0, share)) * (SHADES - 1));
  };
  const [, , dr, dz] = shape, list = [];
  for (let first = 0, last = 1; first + 1 < n; first = last) {
    const shade = shadeOf(first);
    last = first + 1;
    while (last + 1 < n && shadeOf(last) === shade) last++;
    list.push({ shade, thick: 2 * Math.hypot(dr[first], dz[first]), path: roundOf(first, last, shape) });
  }
  const thinnest = Math.min(...list.map(({ thick }) => thick));
  pieces = { key, list, thinnest, whole: roundOf(0, n - 1, shape) };
  return pieces;
}

// The sheet over a wider line in ink, so that every colour stands out from the paper.
function paintSheet(side) {
  const { list, thinnest, whole } = piecesOf(at.frame, at.field);
  const colours = shades[scaleOf(at.field)], added = (thick) => Math.max(0.8, LEAST - thick * eye.scale);
  inMillimetres(side);
  pen.lineJoin = "round";
  pen.strokeStyle = look.ink;
  pen.lineWidth = (added(thinnest) + 1.6) / eye.scale;
  pen.stroke(whole);
  for (const { shade, thick, path } of list) {
    pen.fillStyle = pen.strokeStyle = colours[shade];
    pen.lineWidth = added(thick) / eye.scale;
    pen.fill(path);
    pen.stroke(path);
  }
  inPixels();
}

function paintPoint() {
  const place = placeOf(at.frame, at.way);
  if (place === null) return;
  const [r, z] = sheet(at.frame).slice(0, 2).map((values) => between(values, place));
  pen.beginPath();
  pen.arc(toX(at.side * r), toY(z), 7, 0, 2 * Math.PI);
  pen.lineWidth = 5;
  pen.strokeStyle = look.canvas;
  pen.stroke();
  pen.lineWidth = at.held ? 3 : 2;
  pen.strokeStyle = look.alarm;
  pen.stroke();
}

// A length of 1, 2 or 5 times a power of ten, a fifth of the picture wide at most.
function paintRuler(width, height) {
  const most = Math.min(160, 0.3 * width) / eye.scale, ten = 10 ** Math.floor(Math.log10(most));
  const length = [5, 2, 1].map((k) => k * ten).find((k) => k <= most);
  const [x, y] = [12, height - 14], end = x + length * eye.scale;
  pen.strokeStyle = pen.fillStyle = look.ink;
  pen.lineWidth = 2;
  pen.beginPath();
  pen.moveTo(x, y - 5);
  pen.lineTo(x, y);
  pen.lineTo(end, y);
  pen.lineTo(end, y - 5);
  pen.stroke();
  pen.font = "12px system-ui, sans-serif";
  pen.textAlign = "left";
  pen.textBaseline = "alphabetic";
  pen.lineWidth = 3;
  pen.strokeStyle = look.canvas;
  const text = `${Number(length.toPrecision(1))} mm`;
  pen.strokeText(text, x + 4, y - 6);
  pen.fillText(text, x + 4, y - 6);
}
