"use strict";
(() => {
const data = JSON.parse(document.getElementById("viewer-data").textContent);
const get = (name) => document.getElementById(`viewer-${name}`);
const canvas = get("canvas"), pen = canvas.getContext("2d", { alpha: false });
const GEOMETRY = 4, NEAR = 24, SHADES = 64, LEAST = 3;
const [R, Z, DR, DZ] = [0, 1, 2, 3];
const calm = matchMedia("(prefers-reduced-motion: reduce)");
const dark = matchMedia("(prefers-color-scheme: dark)");

// What is shown, and where the eye is: centre in mm, pixels per mm; moved once a person did so.
const at = { frame: 0, way: null, held: false, side: 1, field: 0, playing: false };
const eye = { r: 0, z: 0, scale: 1, moved: false };

{% include "viewer_numbers.js" %}
{% include "viewer_picture.js" %}
{% include "viewer_words.js" %}
{% include "viewer_hands.js" %}

function choice(text, value) {
  const option = element("option", text);
  option.value = value;
  return option;
}

function start() {
  get("stage").append(...data.stages.map((stage, k) => choice(`${stage.number} ${stage.name}`, k)));
  get("field").append(...data.fields.map((field, k) => choice(field.label, k)));
  get("place").textContent = `Place: ${data.place}`;
  listen();
  document.getElementById("viewer").hidden = false;
  for (const link of document.querySelectorAll("[data-needs=viewer]")) link.hidden = false;
  readLook();
  new ResizeObserver(repaint).observe(canvas);
  at.frame = data.shown;
  at.way = wayAt(at.frame, thinnest(at.frame));
  tellAll();
  decodeAhead();
}
start();
})();
