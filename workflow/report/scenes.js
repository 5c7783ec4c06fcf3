// The two scenes of a case and their controls.

const scenes = JSON.parse(byId("scene-data").textContent);
let units = "both";

const checked = (id) => byId(id).checked;
const onChange = (id, act) => byId(id).addEventListener("change", act);
const RIM = { bgcolor: "rgba(255,255,255,0.82)", borderpad: 1 };

// Appliance

const sideways = { 1: { ax: 18, xanchor: "left", align: "left" }, "-1": { ax: -18, xanchor: "right", align: "right" } };

function annotations() {
  const numbers = scenes.teeth.map((tooth) => ({
    ...asPoint(place(tooth.label_10um)), text: `<b>${tooth.number}</b>`, showarrow: false, name: "tooth",
  }));
  if (!checked("appliance-loads")) return numbers;
  const loads = scenes.loads.map((load) => ({
    ...RIM, ...asPoint(place(load.label_10um)), ...sideways[scenes.label_side], ay: 0, text: load.label[units].replace("\n", "<br>"),
    font: { color: INK[load.kind] }, arrowcolor: INK[load.kind], arrowhead: 0, arrowwidth: 1, name: "load",
  }));
  return [...numbers, ...loads];
}

const slider = byId("appliance-movement"); // missing where nothing moves
const enlarged = () => (slider ? Number(slider.value) : 0);
const TICKS = ["crowns", "roots", "passive", "loads", "start"]; // each shows or hides the group of its name

function applianceContent() {
  const bodies = applianceBodies(scenes);
  const hidden = TICKS.filter((group) => !checked(`appliance-${group}`));
  for (const each of bodies) {
    each.trace.visible = !hidden.includes(each.group);
    if (each.motion) [each.trace.x, each.trace.y, each.trace.z] = movedBy(each.motion, enlarged(), each.start);
  }
  return { bodies, directions: scenes.directions, annotations: annotations() };
}

const appliance = new View("appliance", applianceContent, scenes.view, scenes.label_side);

for (const group of TICKS) {
  onChange(`appliance-${group}`, async () => {
    await appliance.toggle(group, checked(`appliance-${group}`));
    if (group === "loads") await appliance.annotate(annotations());
  });
}

const factorText = (factor) => (factor === 0 ? "teeth where they start" : `movement enlarged ${Number(factor.toPrecision(6))} times`);
const writeFactor = () => (byId("appliance-factor").textContent = factorText(enlarged()));
let moving = false;

// While one step is drawn further ones wait, and only the last of them is drawn.
async function follow() {
  writeFactor();
  if (moving) return;
  moving = true;
  for (let at = null; at !== enlarged(); ) {
    at = enlarged();
    await appliance.move(at);
  }
  moving = false;
}

if (slider) {
  writeFactor();
  slider.addEventListener("input", follow);
}

// Ligament

const toothSelect = byId("ligament-tooth");
const shownTooth = () => scenes.teeth[Number(toothSelect.value)];
const digits = (value) => (Math.abs(value) >= 999.5 ? value.toFixed(0) : Number(value.toPrecision(3)).toString()).replace("-", "−");

// A stress in the wanted unit or in both.
function stressText(kPa) {
  const [si, gf] = [`${digits(kPa)} kPa`, `${digits(kPa * scenes.beside_kPa.factor)} ${scenes.beside_kPa.unit}`];
  return { si, gf, both: `${si} (${gf})` }[units];
}

function colours() {
  const { limit_kPa: limit } = checked("ligament-own") ? shownTooth().hydrostatic_kPa : scenes.stress;
  const factor = units === "gf" ? scenes.beside_kPa.factor : 1;
  const ticks = [-1, -0.5, 0, 0.5, 1].map((share) => share * limit);
  const narrow = byId("ligament-canvas").clientWidth < NARROW;
  const unit = units === "gf" ? scenes.beside_kPa.unit : "kPa";
  return {
    cmin: -limit, cmax: limit,
    colorbar: {
      title: { text: narrow ? `${unit}<br> ` : `hydrostatic<br>stress (${unit})<br> `, side: "top" }, thickness: 14, len: 0.85, x: 1, xanchor: "right",
      tickvals: ticks, ticktext: ticks.map((value) => digits(value * factor)), outlinewidth: 0,
    },
    text: shownTooth().ligament.hydrostatic_kPa.map((kPa) => `tooth ${shownTooth().number}<br>${stressText(kPa)}`),
    hoverinfo: "text",
  };
}

function ligamentContent() {
  const bodies = ligamentBodies(shownTooth(), scenes.stress.colours);
  Object.assign(bodies[0].trace, colours());
  for (const each of bodies) if (each.group === "crowns") each.trace.visible = checked("ligament-crown");
  return { bodies, directions: shownTooth().directions, annotations: [] };
}

const ligament = new View("ligament", ligamentContent, "whole");

function recolour() {
  const { text, colorbar, ...range } = colours();
  return ligament.restyle({ ...range, text: [text], colorbar: [colorbar] }, ({ group }) => group === "field");
}

function writeRange() {
  const line = byId("ligament-words").querySelectorAll("li > span")[Number(toothSelect.value)];
  byId("ligament-range").replaceChildren(...[...line.childNodes].map((node) => node.cloneNode(true)));
}

writeRange();
onChange("ligament-tooth", async () => {
  writeRange();
  if (!(await ligament.ready())) return;
  ligament.view = null;
  await ligament.replace();
  ligament.mark();
});
onChange("ligament-crown", () => ligament.toggle("crowns", checked("ligament-crown")));
onChange("ligament-own", recolour);

document.addEventListener("units", ({ detail }) => {
  units = ["si", "gf"].includes(detail) ? detail : "both";
  if (appliance.drawn) appliance.annotate(annotations());
  if (ligament.drawn) recolour();
});
