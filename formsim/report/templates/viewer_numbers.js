// Packed numbers of the page: values of a state, places along the sheet, ranges of a field.
const bytes = atob(data.numbers), raw = new Uint8Array(bytes.length);
for (let k = 0; k < bytes.length; k++) raw[k] = bytes.charCodeAt(k);
const view = new DataView(raw.buffer), packed = new Int16Array(raw.length / 2);
for (let k = 0; k < packed.length; k++) packed[k] = view.getInt16(2 * k, true);
const channels = data.scales.length;
let begin = 0;
const begins = data.frames.map((frame) => {
  const own = begin;
  begin += channels * data.meshes[frame.mesh].way.length;
  return own;
});
const wayOf = (frame) => data.meshes[data.frames[frame].mesh].way;

// Channels of a state with the least and largest value of each, decoded once and kept.
const kept = new Array(data.frames.length);
function decoded(frame) {
  if (!kept[frame]) {
    const n = wayOf(frame).length;
    kept[frame] = data.scales.map(([offset, step], c) => {
      const from = begins[frame] + c * n, values = new Float64Array(n);
      let low = Infinity, high = -Infinity;
      for (let k = 0; k < n; k++) {
        const value = values[k] = offset + step * packed[from + k];
        if (value < low) low = value;
        if (value > high) high = value;
      }
      return { values, low, high };
    });
  }
  return kept[frame];
}
const channel = (frame, c) => decoded(frame)[c].values;
const sheet = (frame) => [R, Z, DR, DZ].map((c) => channel(frame, c));

// All states are decoded ahead while nothing else is to be done, a few at a time.
const whenIdle = window.requestIdleCallback
  || ((work) => setTimeout(() => work({ timeRemaining: () => 0 }), 30));
function decodeAhead(next = 0) {
  whenIdle((left) => {
    do decoded(next++); while (next < kept.length && left.timeRemaining() > 2);
    if (next < kept.length) decodeAhead(next);
  });
}

// Line number with fraction of a place along the sheet; null where a trim has cut it off.
function placeOf(frame, way) {
  const ways = wayOf(frame), last = ways.length - 1;
  if (way === null || way > ways[last] + 1e-3) return null;
  let low = 0, high = last;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (ways[middle] <= way) low = middle; else high = middle;
  }
  return low + Math.min(1, Math.max(0, (way - ways[low]) / (ways[high] - ways[low])));
}

function between(values, place) {
  const k = Math.min(Math.floor(place), values.length - 2), x = place - k;
  return (1 - x) * values[k] + x * values[k + 1];
}

function wayAt(frame, place) { return between(wayOf(frame), place); }

function thinnest(frame) {
  const thickness = channel(frame, GEOMETRY);
  return thickness.indexOf(Math.min(...thickness));
}

// Range of a field over some states, the same on both sides of zero where that counts.
const limits = new Map();
function limitsOf(field) {
  const stage = data.stages[stageOf(at.frame)], mode = get("range").value;
  const [first, last] = { run: [0, data.frames.length - 1], stage: [stage.first, stage.last],
    state: [at.frame, at.frame] }[mode];
  const key = `${field} ${first} ${last}`;
  if (!limits.has(key)) {
    let low = Infinity, high = -Infinity;
    for (let k = first; k <= last; k++) {
      const own = decoded(k)[GEOMETRY + field];
      low = Math.min(low, own.low);
      high = Math.max(high, own.high);
    }
    const most = Math.max(Math.abs(low), Math.abs(high), 1e-9);
    limits.set(key, data.fields[field].signed ? [-most, most] : [low, Math.max(high, low + 1e-9)]);
  }
  return limits.get(key);
}
