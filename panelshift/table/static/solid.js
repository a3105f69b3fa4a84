// The corset in three dimensions. Its points and colours are the server's; here they are turned.
import { Renderer, Camera, Transform, Geometry, Program, Mesh } from "./ogl.min.js";

const one = (id) => document.getElementById(id);
const within = (value, low, high) => Math.min(high, Math.max(low, value));

const VERTEX = `
attribute vec3 position;
attribute vec3 normal;
attribute float growth;
attribute float strain;
uniform mat4 modelViewMatrix;
uniform mat4 projectionMatrix;
uniform mat3 normalMatrix;
uniform float lift;
uniform float byStrain;
varying vec3 vNormal;
varying float vShare;
void main() {
  vNormal = normalMatrix * normal;
  vShare = mix(growth, strain, byStrain);
  gl_Position = projectionMatrix * modelViewMatrix * vec4(position + lift * normal, 1.0);
}`;
const CLOTH = `
precision highp float;
uniform vec3 less;
uniform vec3 none;
uniform vec3 more;
uniform vec3 tint;
uniform vec3 inside;
uniform float byClass;
varying vec3 vNormal;
varying float vShare;
void main() {
  vec3 scaled = mix(none, vShare < 0.0 ? less : more, min(abs(vShare), 1.0));
  vec3 colour = gl_FrontFacing ? mix(scaled, tint, byClass) : inside;
  float light = 0.8 + 0.2 * abs(normalize(vNormal).z);
  gl_FragColor = vec4(colour * light, 1.0);
}`;
const EDGE = `
precision highp float;
uniform vec3 tint;
void main() { gl_FragColor = vec4(tint, 1.0); }`;

const colour = (hex) => [1, 3, 5].map((at) => parseInt(hex.slice(at, at + 2), 16) / 255);

let stage = null;

// Asked before the library is, which complains aloud where there is none.
function canDraw() {
  const trial = document.createElement("canvas");
  return Boolean(trial.getContext("webgl2") || trial.getContext("webgl"));
}

function setUp(canvas) {
  const renderer = new Renderer({ canvas, dpr: Math.min(window.devicePixelRatio, 2), alpha: true, antialias: true, preserveDrawingBuffer: true });
  // Its size is the style sheet's.
  canvas.removeAttribute("style");
  const tilted = new Transform();
  const turned = new Transform();
  turned.setParent(tilted);
  const camera = new Camera(renderer.gl, { near: 1, far: 4000 });
  camera.position.z = 2000;
  canvas.addEventListener("webglcontextlost", leave);
  new ResizeObserver(draw).observe(canvas);
  return { canvas, renderer, camera, tilted, turned, closer: 1, mark: null, meshes: [], names: [], size: 1 };
}

// Without it the server's still picture is there.
function leave() {
  one("solid-stage")?.setAttribute("hidden", "");
  document.body.classList.add("still");
  stage = null;
}

function clear() {
  for (const { mesh } of stage.meshes) {
    mesh.setParent(null);
    mesh.geometry.remove();
    mesh.program.remove();
  }
  stage.meshes = [];
}

function sheetOf(columns, rows) {
  const index = [];
  for (let k = 0; k + 1 < columns; k += 1) {
    for (let j = 0; j + 1 < rows; j += 1) {
      const [a, b, c, d] = [k * rows + j, (k + 1) * rows + j, (k + 1) * rows + j + 1, k * rows + j + 1];
      index.push(a, b, c, a, c, d);
    }
  }
  return new Uint16Array(index);
}

// Pairs of points: a panel with a slit goes on beside it, where no line is.
function borderOf(columns, rows, sides) {
  const border = [];
  const last = (columns - 1) * rows;
  for (let at = 0; at < last; at += rows) border.push(at, at + rows, at + rows - 1, at + 2 * rows - 1);
  sides.forEach((ends, side) => {
    for (let j = 0; j < rows - 1; j += 1) if (ends[j] && ends[j + 1]) border.push(side * last + j, side * last + j + 1);
  });
  return border;
}

// The page's axes: x to the wearer's left, y up, z ahead.
function upright(numbers, each = (k, value) => value) {
  const result = new Float32Array(numbers.length);
  for (let k = 0; k < numbers.length; k += 3) {
    [result[k], result[k + 1], result[k + 2]] = [numbers[k], numbers[k + 2], numbers[k + 1]].map((value) => each(k, value));
  }
  return result;
}

function build(data) {
  clear();
  const { gl } = stage.renderer;
  const [less, none, more] = data.scale.map(colour);
  const sheet = sheetOf(data.columns, data.rows);
  const all = data.panels.flatMap((panel) => panel.points);
  const up = all.filter((_, k) => k % 3 === 2);
  const [low, high] = [up.reduce((a, b) => Math.min(a, b)), up.reduce((a, b) => Math.max(a, b))];
  stage.turned.position.y = -(low + high) / 2;
  const middle = Math.floor(data.columns / 2) * data.rows + Math.floor(data.rows / 2);
  stage.names = data.panels.filter((panel) => panel.name).map((panel) => ({
    at: upright(panel.points.slice(3 * middle, 3 * middle + 3)),
    outward: upright(panel.outward.slice(3 * middle, 3 * middle + 3)),
    words: panel.name,
  }));
  let wide = 0;
  for (let k = 0; k < all.length; k += 3) wide = Math.max(wide, Math.hypot(all[k], all[k + 1]));
  // Whichever way it is turned, and with layers lifted, it fits.
  stage.size = { wide: 1.15 * wide, tall: 0.62 * (high - low) + 0.1 * wide };
  for (const panel of data.panels) {
    const position = upright(panel.points);
    const normal = upright(panel.outward);
    const border = borderOf(data.columns, data.rows, panel.edges);
    for (const own of panel.layers) {
      const share = (name) => Float32Array.from(own[name], (value) => value / data.most[name]);
      const uniforms = {
        lift: { value: 0 }, byStrain: { value: 0 }, byClass: { value: 0 },
        less: { value: less }, none: { value: none }, more: { value: more },
        tint: { value: colour(panel.tint) }, inside: { value: colour(data.inside) },
      };
      const cloth = new Mesh(gl, {
        geometry: new Geometry(gl, {
          position: { size: 3, data: position }, normal: { size: 3, data: normal },
          growth: { size: 1, data: share("growth") }, strain: { size: 1, data: share("strain") },
          index: { data: sheet },
        }),
        program: new Program(gl, { vertex: VERTEX, fragment: CLOTH, uniforms, cullFace: null }),
      });
      // Its edges lie a little nearer than the cloth, whichever side is seen.
      const pick = (from) => new Float32Array(border.flatMap((k) => [from[3 * k], from[3 * k + 1], from[3 * k + 2]]));
      const none1 = new Float32Array(border.length);
      const edge = new Mesh(gl, {
        mode: gl.LINES,
        geometry: new Geometry(gl, {
          position: { size: 3, data: pick(position) }, normal: { size: 3, data: pick(normal) },
          growth: { size: 1, data: none1 }, strain: { size: 1, data: none1 },
        }),
        program: new Program(gl, { vertex: VERTEX.replace("1.0);", "1.0); gl_Position.z -= 0.0015;"), fragment: EDGE, uniforms: { ...uniforms, tint: { value: colour(data.ink) } }, cullFace: null }),
      });
      const name = data.layers[own.layer];
      const leftOn = own.layer < panel.left_on;
      for (const mesh of [cloth, edge]) {
        mesh.setParent(stage.turned);
        stage.meshes.push({ mesh, name, leftOn, distance: own.distance });
      }
    }
  }
}

const control = (name) => one(`solid-${name}`);

function draw() {
  if (!stage || !stage.meshes.length || !stage.canvas.isConnected) return;
  const { canvas, renderer, camera, tilted, turned, meshes, size } = stage;
  const [wide, tall] = [canvas.clientWidth, canvas.clientHeight];
  if (!wide || !tall) return;
  renderer.width = wide;
  renderer.height = tall;
  canvas.width = Math.round(wide * renderer.dpr);
  canvas.height = Math.round(tall * renderer.dpr);
  const half = Math.max(size.tall, size.wide * tall / wide) / stage.closer;
  camera.orthographic({ left: -half * wide / tall, right: half * wide / tall, bottom: -half, top: half, near: 1, far: 4000 });
  turned.rotation.y = Number(control("aside").value) * Math.PI / 180;
  tilted.rotation.x = Number(control("above").value) * Math.PI / 180;
  const layer = control("layer").value;
  const by = control("by").value;
  for (const { mesh, name, leftOn, distance } of meshes) {
    mesh.visible = layer ? name === layer : leftOn;
    const { uniforms } = mesh.program;
    uniforms.lift.value = distance * Number(control("lift").value);
    uniforms.byStrain.value = by === "strain" ? 1 : 0;
    uniforms.byClass.value = by === "class" ? 1 : 0;
  }
  renderer.render({ scene: tilted, camera });
  name(half, wide, tall);
}

// The names of panels that look this way, the ones that do so most first, none over another.
function name(half, wide, tall) {
  const { names, tilted, turned } = stage;
  const [a, b] = [turned.rotation.y, tilted.rotation.x];
  const seen = ([x, y, z]) => {
    const [right, ahead] = [x * Math.cos(a) + z * Math.sin(a), z * Math.cos(a) - x * Math.sin(a)];
    return [right, y * Math.cos(b) - ahead * Math.sin(b), y * Math.sin(b) + ahead * Math.cos(b)];
  };
  const list = one("solid-names");
  const taken = [];
  const facing = names.map((own) => ({ own, ahead: seen(own.outward)[2] })).filter(({ ahead }) => ahead > 0.3);
  list.replaceChildren(...facing.sort((p, q) => q.ahead - p.ahead).flatMap(({ own }) => {
    const [right, up] = seen([own.at[0], own.at[1] + turned.position.y, own.at[2]]);
    const [x, y] = [wide / 2 + right * tall / (2 * half), tall / 2 - up * tall / (2 * half)];
    const long = 5 + 3.6 * own.words.length;
    if (taken.some((other) => Math.abs(other.x - x) < other.long + long && Math.abs(other.y - y) < 18)) return [];
    taken.push({ x, y, long });
    const item = document.createElement("li");
    item.textContent = own.words;
    item.style.transform = `translate(${x}px, ${y}px) translate(-50%, -50%)`;
    return [item];
  }));
}

let asked = 0;

// Nothing is fetched for the still picture unless it is to be seen.
async function show() {
  const canvas = one("solid-canvas");
  if (!canvas) {
    stage = null;
    return;
  }
  if (!stage || stage.canvas !== canvas) {
    if (!canDraw()) return leave();
    stage = setUp(canvas);
  }
  const mark = one("revision")?.dataset.mark;
  if (stage.mark !== mark) {
    asked += 1;
    const mine = asked;
    const answer = await fetch("/solid.json").catch(() => null);
    // A later question has a later answer.
    if (!answer?.ok || mine !== asked || !stage) return;
    const data = await answer.json();
    if (!data.panels || mine !== asked || !stage) return;
    build(data);
    stage.mark = mark;
  }
  one("solid-stage").removeAttribute("hidden");
  draw();
}

document.addEventListener("htmx:afterSettle", (event) => {
  if (["look", "seen", "work"].includes(event.target.id)) show();
});
document.body.addEventListener("revised", () => { if (stage) stage.mark = null; });

// Turning is done here; only what changes the words is asked of the server.
document.addEventListener("htmx:beforeRequest", (event) => {
  const { elt, requestConfig } = event.detail;
  const moved = requestConfig.triggeringEvent?.target?.id;
  const here = ["solid-aside", "solid-above"].includes(moved);
  if (elt.id === "solid-controls" && stage && here) event.preventDefault();
});
document.addEventListener("input", (event) => {
  if (event.target.closest?.("#solid-controls")) draw();
});

function turn(aside, above) {
  const [one, two] = [control("aside"), control("above")];
  one.value = (Number(one.value) + aside + 540) % 360 - 180;
  two.value = Number(two.value) + above;
  draw();
}

function closer(times) {
  if (!stage) return;
  stage.closer = within(stage.closer * times, 0.5, 8);
  draw();
}

const touching = new Map();
const spread = () => {
  const [first, second] = [...touching.values()];
  return Math.hypot(first.x - second.x, first.y - second.y) || 1;
};

document.addEventListener("pointerdown", (event) => {
  if (event.target.id !== "solid-canvas") return;
  event.target.setPointerCapture(event.pointerId);
  touching.set(event.pointerId, { x: event.clientX, y: event.clientY });
});
document.addEventListener("pointermove", (event) => {
  const last = touching.get(event.pointerId);
  if (!last || !stage) return;
  const before = touching.size === 2 ? spread() : 0;
  touching.set(event.pointerId, { x: event.clientX, y: event.clientY });
  if (before) closer(spread() / before);
  else turn(0.5 * (event.clientX - last.x), 0.4 * (event.clientY - last.y));
});
for (const kind of ["pointerup", "pointercancel"]) {
  document.addEventListener(kind, (event) => touching.delete(event.pointerId));
}
document.addEventListener("wheel", (event) => {
  if (event.target.id !== "solid-canvas") return;
  event.preventDefault();
  closer(event.deltaY < 0 ? 1.15 : 1 / 1.15);
}, { passive: false });
document.addEventListener("keydown", (event) => {
  if (event.target.id !== "solid-canvas") return;
  const moves = { ArrowLeft: [-6, 0], ArrowRight: [6, 0], ArrowUp: [0, -5], ArrowDown: [0, 5] };
  if (moves[event.key]) turn(...moves[event.key]);
  else if (event.key === "+" || event.key === "=") closer(1.2);
  else if (event.key === "-") closer(1 / 1.2);
  else return;
  event.preventDefault();
});

function save(blob, name) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(blob);
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 1000);
}

function savePng() {
  draw();
  stage?.canvas.toBlob((blob) => save(blob, "corset.png"));
}

async function saveCard(asPng) {
  const answer = await fetch(`/card.svg?named=${one("card-named").checked ? 1 : 0}`).catch(() => null);
  if (!answer?.ok) {
    one("said").textContent = "There is no card yet: the steps above come first.";
    return;
  }
  const text = await answer.text();
  if (!asPng) return save(new Blob([text], { type: "image/svg+xml" }), "card.svg");
  const drawn = new Image();
  drawn.src = `data:image/svg+xml;charset=utf-8,${encodeURIComponent(text)}`;
  await drawn.decode();
  const sheet = document.createElement("canvas");
  [sheet.width, sheet.height] = [drawn.naturalWidth, drawn.naturalHeight];
  sheet.getContext("2d").drawImage(drawn, 0, 0);
  sheet.toBlob((blob) => save(blob, "card.png"));
}

document.addEventListener("click", (event) => {
  const { id } = event.target;
  if (id === "solid-closer") closer(1.25);
  else if (id === "solid-further") closer(0.8);
  else if (id === "solid-png") savePng();
  else if (id === "card-png" || id === "card-svg") saveCard(id === "card-png");
  // As it is turned now.
  else if (id === "solid-svg") event.target.href = `/solid.svg?${new URLSearchParams(new FormData(one("solid-controls")))}`;
});

show();
