// Parallel views of a scene: where the eye is, how large a millimetre is drawn, which way is which.

const SUPERIOR = [0, 0, 1];
const EYE = 2.5; // any distance shows the same in parallel projection; this one lies outside

// Orthonormal right, up and towards the eye, `up` as nearly upright as it can be.
function looking(towards, upright = SUPERIOR) {
  const eye = unitVector(towards);
  const right = unitVector(cross(upright, eye));
  return { right, up: cross(eye, right), towards: eye };
}

function namedView(name, { mesial, buccal, occlusal }) {
  const slant = sum(scaled(buccal, 0.6), scaled(mesial, 0.45), scaled(occlusal, 0.65));
  const views = {
    buccal: [buccal], lingual: [scaled(buccal, -1)], mesial: [mesial], distal: [scaled(mesial, -1)],
    occlusal: [occlusal, buccal], apical: [scaled(occlusal, -1), buccal], whole: [slant],
  };
  return looking(...views[name]);
}

const LEEWAY_MM = 5; // what leaves the ranges of the axes is cut off, and teeth move

// Box around some bodies, mm; half of the ranges of the axes.
function boxOf(bodies) {
  const low = [Infinity, Infinity, Infinity], high = [-Infinity, -Infinity, -Infinity];
  for (const { start } of bodies) {
    start.forEach((values, axis) => values.forEach((value) => {
      if (value < low[axis]) low[axis] = value;
      if (value > high[axis]) high[axis] = value;
    }));
  }
  return { low, high, middle: scaled(sum(low, high), 0.5), half: LEEWAY_MM + 0.5 * Math.max(...high.map((value, axis) => value - low[axis])) };
}

// Extent of bodies to the right and up in a view, mm from the middle of their box.
function extent(bodies, box, view) {
  const found = { left: Infinity, right: -Infinity, low: Infinity, high: -Infinity };
  for (const { start: [x, y, z] } of bodies) {
    for (let i = 0; i < x.length; i++) {
      const from = [x[i] - box.middle[0], y[i] - box.middle[1], z[i] - box.middle[2]];
      const [right, up] = [dot(from, view.right), dot(from, view.up)];
      found.left = Math.min(found.left, right);
      found.right = Math.max(found.right, right);
      found.low = Math.min(found.low, up);
      found.high = Math.max(found.high, up);
    }
  }
  return found;
}

const asPoint = ([x, y, z]) => ({ x, y, z });
const asVector = ({ x, y, z }) => [x, y, z];

// Camera and aspect ratio that fill a canvas of width × height pixels but for margins of so many.
// The library shows two scene units over the height; the ranges of all axes are 2 × box.half.
function filling(bodies, box, view, { width, height, left, right, top, bottom }) {
  const seen = extent(bodies, box, view);
  const perMm = Math.min((width - left - right) / (seen.right - seen.left), (height - top - bottom) / (seen.high - seen.low));
  const aspect = (4 * box.half * perMm) / height;
  const middle = [seen.left + seen.right + (right - left) / perMm, seen.low + seen.high + (top - bottom) / perMm];
  const aside = sum(scaled(view.right, middle[0] / 2), scaled(view.up, middle[1] / 2));
  const centre = scaled(aside, aspect / (2 * box.half));
  return {
    "scene.camera": {
      center: asPoint(centre), eye: asPoint(sum(centre, scaled(view.towards, EYE))), up: asPoint(view.up),
      projection: { type: "orthographic" },
    },
    "scene.aspectmode": "manual",
    "scene.aspectratio": { x: aspect, y: aspect, z: aspect },
  };
}

const viewOf = ({ center, eye, up }) => looking(sum(asVector(eye), scaled(asVector(center), -1)), asVector(up));

// The camera after the scene has turned under it, rad to the right and up.
function turned(camera, right, up) {
  const view = viewOf(camera);
  const towards = sum(scaled(view.towards, Math.cos(right) * Math.cos(up)), scaled(view.right, -Math.sin(right) * Math.cos(up)), scaled(view.up, Math.sin(up)));
  const after = looking(towards, sum(scaled(view.up, Math.cos(up)), scaled(view.towards, -Math.sin(up))));
  return { ...camera, eye: asPoint(sum(asVector(camera.center), scaled(after.towards, EYE))), up: asPoint(after.up) };
}

// Three short arrows in the corner that say where mesial, buccal and occlusal are.
const SVG = "http://www.w3.org/2000/svg";
const svgElement = (name, attributes) => {
  const element = document.createElementNS(SVG, name);
  Object.entries(attributes).forEach(([key, value]) => element.setAttribute(key, value));
  return element;
};

function compass(directions, camera) {
  const view = viewOf(camera);
  const lines = Object.entries(directions).flatMap(([name, direction]) => {
    const [x, y] = [32 * dot(direction, view.right), -32 * dot(direction, view.up)];
    const reach = Math.hypot(x, y);
    if (reach < 8) return [];
    const label = svgElement("text", {
      x: x * (1 + 5 / reach), y: y * (1 + 9 / reach) + 4,
      "text-anchor": x > 12 ? "start" : x < -12 ? "end" : "middle",
    });
    label.textContent = name;
    return [svgElement("line", { x2: x, y2: y }), svgElement("circle", { cx: x, cy: y, r: 2.5 }), label];
  });
  return lines;
}
