// What a person does: states, places, playing, pointers, wheel, keys, choices.
let asked = false;
function repaint() {
  if (asked) return;
  asked = true;
  requestAnimationFrame(() => {
    asked = false;
    paint();
  });
}

function tellAll() {
  tellState();
  tellLegend();
  tellValues();
  tellStory();
  repaint();
}

function show(frame) {
  at.frame = Math.min(data.frames.length - 1, Math.max(0, frame));
  tellAll();
}

function mark(way, side) {
  at.way = way;
  at.side = side;
  tellValues();
  tellStory();
  repaint();
}

function hold(way, side) {
  at.held = true;
  mark(way, side);
}

function play(on) {
  at.playing = on;
  get("play").textContent = on ? "Pause" : "Play";
  get("told").setAttribute("aria-live", on ? "off" : "polite");
  if (!on) return;
  if (at.frame === data.frames.length - 1) show(0);
  let last = performance.now();
  const step = (now) => {
    if (!at.playing) return;
    if (now - last >= (calm.matches ? 1000 : 80)) {
      last = now;
      show(at.frame + 1);
      if (at.frame === data.frames.length - 1) play(false);
    }
    requestAnimationFrame(step);
  };
  requestAnimationFrame(step);
}

// Nearest place of the middle of the sheet to a point of the picture, and how far it is.
function nearest(x, y) {
  const [r, z] = sheet(at.frame), side = toR(x) < 0 ? -1 : 1;
  let found = { distance: Infinity, place: 0, side };
  for (let k = 0; k + 1 < r.length; k++) {
    const ax = toX(side * r[k]), ay = toY(z[k]);
    const dx = toX(side * r[k + 1]) - ax, dy = toY(z[k + 1]) - ay;
    const along = ((x - ax) * dx + (y - ay) * dy) / (dx * dx + dy * dy || 1);
    const share = Math.min(1, Math.max(0, along));
    const distance = Math.hypot(ax + share * dx - x, ay + share * dy - y);
    if (distance < found.distance) found = { distance, place: k + share, side };
  }
  const thickness = between(channel(at.frame, GEOMETRY), found.place) * eye.scale;
  return { ...found, reached: found.distance < NEAR + 0.5 * thickness };
}

const pointers = new Map();
let dragged = false, gap = 0;
const spot = (event) => [event.offsetX, event.offsetY];
const spread = () => {
  const [a, b] = [...pointers.values()];
  return Math.hypot(a[0] - b[0], a[1] - b[1]);
};

canvas.addEventListener("pointerdown", (event) => {
  pointers.set(event.pointerId, spot(event));
  canvas.setPointerCapture(event.pointerId);
  dragged = pointers.size > 1;
  if (pointers.size === 2) gap = spread();
});
canvas.addEventListener("pointermove", (event) => {
  const [x, y] = spot(event), before = pointers.get(event.pointerId);
  if (!before) {
    const found = nearest(x, y);
    if (!at.held && found.reached) mark(wayAt(at.frame, found.place), found.side);
    return;
  }
  const [dx, dy] = [x - before[0], y - before[1]];
  if (!dragged && Math.hypot(dx, dy) < 4) return;
  dragged = true;
  pointers.set(event.pointerId, [x, y]);
  move(dx / pointers.size, dy / pointers.size);
  if (pointers.size === 2) {
    const [a, b] = [...pointers.values()], now = spread();
    if (gap > 0) zoom(now / gap, 0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1]));
    gap = now;
  }
});
const lift = (event) => {
  const clicked = pointers.delete(event.pointerId) && !dragged && event.type === "pointerup";
  if (!clicked) return;
  const found = nearest(...spot(event));
  if (found.reached) hold(wayAt(at.frame, found.place), found.side);
  else { at.held = false; repaint(); }
};
canvas.addEventListener("pointerup", lift);
canvas.addEventListener("pointercancel", lift);
canvas.addEventListener("wheel", (event) => {
  if (document.activeElement !== canvas && !event.ctrlKey) return;
  event.preventDefault();
  zoom(Math.exp(-0.0015 * event.deltaY), ...spot(event));
}, { passive: false });

const keys = {
  ArrowLeft: () => move(60, 0), ArrowRight: () => move(-60, 0),
  ArrowUp: () => move(0, 60), ArrowDown: () => move(0, -60),
  "+": () => zoom(1.4), "=": () => zoom(1.4), "-": () => zoom(1 / 1.4),
  0: () => { showWhole(); repaint(); }, " ": () => play(!at.playing),
  ",": () => show(at.frame - 1), ".": () => show(at.frame + 1), t: showThinnest,
  Escape: () => { at.held = false; repaint(); },
};
canvas.addEventListener("keydown", (event) => {
  const action = keys[event.key];
  if (!action || event.ctrlKey || event.metaKey || event.altKey) return;
  event.preventDefault();
  action();
});

function listen() {
  get("stage").addEventListener("change", () => {
    eye.moved = false;
    show(data.stages[get("stage").value].last);
  });
  get("state").addEventListener("input", () => {
    play(false);
    show(data.stages[stageOf(at.frame)].first + Number(get("state").value));
  });
  get("back").addEventListener("click", () => show(at.frame - 1));
  get("on").addEventListener("click", () => show(at.frame + 1));
  get("play").addEventListener("click", () => play(!at.playing));
  get("nearer").addEventListener("click", () => zoom(1.4));
  get("farther").addEventListener("click", () => zoom(1 / 1.4));
  get("whole").addEventListener("click", () => { showWhole(); repaint(); });
  get("thinnest").addEventListener("click", showThinnest);
  get("tools").addEventListener("change", repaint);
  for (const name of ["field", "range"]) {
    get(name).addEventListener("change", () => {
      at.field = Number(get("field").value);
      tellAll();
    });
  }
  get("way").addEventListener("input", () => {
    const ways = wayOf(0);
    hold(get("way").value / 1000 * ways[ways.length - 1], 1);
  });
  dark.addEventListener("change", () => { readLook(); repaint(); });
}
