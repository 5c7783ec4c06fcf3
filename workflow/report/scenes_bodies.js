// Bodies of a scene as the chart library wants them, and how they move.

const UNITS_PER_MM = 100;
const INK = { force: "#0072b2", couple: "#c14b00" };
const LOOKS = {
  crown: { color: "#f6efdc", lighting: { ambient: 0.5, diffuse: 0.52, specular: 0.08, roughness: 0.5, fresnel: 0.1 } },
  root: { color: "#d9b98c", lighting: { ambient: 0.45, diffuse: 0.55, specular: 0.05, roughness: 0.8, fresnel: 0.1 } },
  wire: { color: "#2b3136", lighting: { ambient: 0.6, diffuse: 0.5, specular: 0.1, roughness: 0.5, fresnel: 0.1 } },
  metal: { color: "#9aa3a8", lighting: { ambient: 0.5, diffuse: 0.6, specular: 0.1, roughness: 0.5, fresnel: 0.1 } },
  arrow: { lighting: { ambient: 0.7, diffuse: 0.4, specular: 0.1, roughness: 0.6, fresnel: 0.1 } },
  field: { lighting: { ambient: 1, diffuse: 0, specular: 0, fresnel: 0 } },
};// Behind the left shoulder of whoever looks; depth counts in ranges of the view, some 500 times as far.
const LIGHT = { x: -250, y: 500, z: -4 };

const each = (flat, first) => Float64Array.from({ length: flat.length / 3 }, (_, i) => flat[3 * i + first]);
const coordinates = (flat) => ["x", "y", "z"].map((_, axis) => each(flat, axis).map((value) => value / UNITS_PER_MM));
const place = (flat) => [...flat].map((value) => value / UNITS_PER_MM);

const cross = (a, b) => [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
const scaled = (a, factor) => a.map((value) => value * factor);
const sum = (...vectors) => [0, 1, 2].map((axis) => vectors.reduce((total, vector) => total + vector[axis], 0));
const unitVector = (a) => scaled(a, 1 / Math.hypot(...a));

// Columns of the matrix that turns by a rotation vector (Rodrigues).
function turning(vector) {
  const angle = Math.hypot(...vector);
  const axis = angle > 0 ? scaled(vector, 1 / angle) : [0, 0, 1];
  const [sine, cosine] = [Math.sin(angle), Math.cos(angle)];
  return [[1, 0, 0], [0, 1, 0], [0, 0, 1]].map((basis) =>
    sum(scaled(basis, cosine), scaled(cross(axis, basis), sine), scaled(axis, dot(axis, basis) * (1 - cosine))));
}

// Coordinates after the enlarged motion: displacement and rotation vector grow, shapes stay.
function movedBy(motion, factor, [x, y, z]) {
  const columns = turning(scaled(motion.rotation_rad, factor));
  const point = motion.point_mm;
  const shift = sum(point, scaled(motion.displacement_mm, factor));
  return [0, 1, 2].map((axis) => x.map((_, i) =>
    shift[axis] + columns[0][axis] * (x[i] - point[0]) + columns[1][axis] * (y[i] - point[1]) + columns[2][axis] * (z[i] - point[2])));
}

// A body: its trace, the group that a tick shows or hides, where it starts and how it moves.
function body(surface, look, { group = "", motion = null, hover = null, ...more }) {
  const start = coordinates(surface.points_10um);
  const trace = {
    type: "mesh3d",
    x: start[0], y: start[1], z: start[2],
    i: each(surface.triangles, 0), j: each(surface.triangles, 1), k: each(surface.triangles, 2),
    flatshading: false, lightposition: LIGHT, showscale: false,
    ...(hover ? { text: hover, hoverinfo: "text" } : { hoverinfo: "skip" }),
    ...LOOKS[look], ...more,
  };
  return { trace, group, motion, start };
}

function toothBodies(tooth) {
  const moves = { motion: tooth.motion, hover: `tooth ${tooth.number}` };
  return [
    body(tooth.crown, "crown", { ...moves, group: "crowns" }),
    body(tooth.root, "root", { ...moves, group: "roots" }),
    lines(tooth.sections_10um, "start", { color: "#3d464d", width: 3 }, `tooth ${tooth.number} before it moved`),
  ];
}

const PART_LOOKS = { wire: "wire", "mirrored wire": "wire", hook: "wire", tube: "metal", bracket: "metal" };
const partBody = (part) => body(part.surface, PART_LOOKS[part.what], { motion: part.motion, group: "parts", hover: part.what });

// Separate pieces of line, as a dashed wire or an outline.
function lines(pieces, group, line, hover) {
  const whole = pieces.map(coordinates);
  const joined = [0, 1, 2].map((axis) => whole.flatMap((piece) => [...piece[axis], null]));
  const [x, y, z] = joined;
  const trace = { type: "scatter3d", mode: "lines", x, y, z, connectgaps: false, line, hoverinfo: "text", text: hover };
  return { trace, group, motion: null, start: joined.map((values) => values.filter((value) => value !== null)) };
}

const loadBody = (load) => body(load.surface, "arrow", { color: INK[load.kind], group: "loads" });

const applianceBodies = (scenes) => [
  ...scenes.teeth.flatMap(toothBodies),
  ...scenes.parts.map(partBody),
  lines(scenes.passive_wire_10um, "passive", { color: "#6a6a6a", width: 6 }, "passive wire"),
  ...scenes.loads.map(loadBody),
];

function ligamentBodies(tooth, colours) {
  const scale = colours.map((colour, i) => [i / (colours.length - 1), colour]);
  return [
    body(tooth.ligament, "field", {
      group: "field", intensity: tooth.ligament.hydrostatic_kPa, intensitymode: "cell", colorscale: scale,
      showscale: true,
    }),
    body(tooth.crown, "crown", { group: "crowns", hover: `tooth ${tooth.number}` }),
    body(tooth.root, "root", { group: "crowns" }),
  ];
}
