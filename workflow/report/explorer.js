// Brings the controls to life.

const byId = (id) => document.getElementById(id);
const [runsTable, failuresTable] = [byId("runs"), byId("failures")];
const allFailed = failed.flatMap((is, row) => (is ? [row] : []));
const tableColumns = columns.filter((column) => column !== note);
const failureColumns = [run, note, ...columns.filter((column) => column.role === "factor")];
const state = { sort: { place: 0, descending: false }, chosen: null, listed: FIRST, selection: selectRows() };
const allCompleted = failed.flatMap((is, row) => (is ? [] : [row]));
let inOrder = sortedRows(allCompleted, state.sort.place, state.sort.descending);
const counted = (number, word) => `${number.toLocaleString("en")} ${word}${number === 1 ? "" : "s"}`;

const view = () => ({
  x: Number(byId("x").value),
  y: Number(byId("y").value),
  colour: byId("colour").value === "" ? null : Number(byId("colour").value),
  xLog: byId("x-log").checked,
  yLog: byId("y-log").checked,
});

function writeCounts({ shown, failedInside }) {
  const inside = failedInside.length === allFailed.length ? "" : ` (${failedInside.length.toLocaleString("en")} of them within the filters on factors)`;
  byId("counts").textContent =
    `${counted(ROWS, "run")}: ${shown.length.toLocaleString("en")} shown of ${(ROWS - allFailed.length).toLocaleString("en")} completed, ${allFailed.length.toLocaleString("en")} failed${inside}.`;
  byId("download").disabled = shown.length === 0;
}

function writeChartNote(drawn, crosses) {
  const { shown, failedInside } = state.selection;
  const [missing, unplaced] = [shown.length - drawn, failedInside.length - crosses];
  const parts = [`${counted(drawn, "run")} drawn.`];
  if (missing) parts.push(`${counted(missing, "shown run")} without a place on these axes not drawn.`);
  if (crosses) parts.push(`${counted(crosses, "failed run")} drawn as crosses.`);
  if (unplaced) parts.push(`${counted(unplaced, "failed run")} without a place on these axes, listed below.`);
  if (ROWS > MANY && !hasWebGL) parts.push("This browser lacks WebGL; so many runs are drawn slowly.");
  byId("chart-note").textContent = parts.join(" ");
  const { x, y, colour } = view();
  const by = colour === null ? "" : `, coloured by ${columns[colour].label}`;
  chart.setAttribute("aria-label", `Scatter chart of ${columns[y].label} against ${columns[x].label}${by}`);
}

async function redraw() {
  const placed = placedRuns(state.selection, view());
  writeChartNote(placed.drawn.length, placed.crosses.length);
  await draw(placed, view(), state.chosen);
  performance.mark("drawn");
}

// The lines in view are there at once; those further down follow when nothing has moved for a while.
const REST_MS = 300;
const rest = { timer: null, rows: [] };

function listRuns() {
  const rows = firstOf(inOrder, state.selection.shown, FIRST);
  const total = state.selection.shown.length;
  byId("runs-note").textContent =
    total === 0 ? "No completed run passes the filters." : total > FIRST ? `The first ${FIRST} of ${counted(total, "run")}; the file has them all.` : `${counted(total, "run")}.`;
  clearTimeout(rest.timer);
  replaceBody(runsTable, tableBody(rows.slice(0, IN_VIEW), tableColumns, choose));
  Object.assign(rest, { timer: setTimeout(listRest, REST_MS), rows: rows.slice(IN_VIEW) });
  runsTable.ariaBusy = "true";
  markChosen(state.chosen);
}

function listRest() {
  clearTimeout(rest.timer);
  runsTable.tBodies[0].append(tableLines(rest.rows, tableColumns, choose));
  rest.rows = [];
  runsTable.ariaBusy = "false";
  markChosen(state.chosen);
}

function markSorted() {
  const { place, descending } = state.sort;
  [...runsTable.tHead.rows[0].cells].forEach((cell, i) => {
    const direction = columns.indexOf(tableColumns[i]) !== place ? "none" : descending ? "descending" : "ascending";
    cell.setAttribute("aria-sort", direction);
  });
}

function listFailures() {
  const total = allFailed.length;
  byId("failures-found").hidden = total === 0;
  byId("failures-note").textContent = total === 0 ? "No run failed." : `${counted(total, "run")} failed. All are listed, whatever the filters.`;
  replaceBody(failuresTable, tableBody(allFailed.slice(0, state.listed), failureColumns, choose));
  byId("more-failed").hidden = state.listed >= total;
  markChosen(state.chosen);
}

function sort(place) {
  state.sort = { place, descending: state.sort.place === place && !state.sort.descending };
  inOrder = sortedRows(allCompleted, place, state.sort.descending);
  markSorted();
  listRuns();
}

// A table may be far from the details: then the reader is led there, and back.
function choose(row, button = null) {
  state.chosen = row;
  byId("chosen").replaceChildren(details(row));
  markChosen(row);
  if (button) {
    const back = element("button", "Back to the table", { type: "button" });
    back.addEventListener("click", () => (button.isConnected ? button : byId("runs-heading")).focus());
    byId("chosen").append(back);
    byId("chosen-heading").focus();
  }
  redraw();
}

// Several moves of a slider within one frame are one change.
let changedAt = null;
function filtersChanged(event) {
  if (changedAt === null) requestAnimationFrame(applyFilters);
  changedAt ??= event.timeStamp;
}

const afterPainting = (then) => requestAnimationFrame(() => requestAnimationFrame(then));

async function applyFilters() {
  const start = changedAt;
  changedAt = null;
  state.selection = selectRows();
  // The chart reads its sizes: whatever else is written before it has to be laid out for that.
  const drawing = redraw();
  writeCounts(state.selection);
  listRuns();
  await drawing;
  afterPainting(() => performance.measure("filter", { start, end: performance.now() }));
}

// Slider and field of a bound tell the same.
function showInField(place, side) {
  byId(`${side}-${place}`).value = filters[place][side] ?? "";
}

function showOnSlider(place, side) {
  const { stops } = columns[place];
  const value = filters[place][side];
  const slider = byId(`${side}-slider-${place}`);
  const passed = stops.filter((stop) => (side === "low" ? stop < value : stop <= value)).length;
  const end = side === "low" ? 0 : stops.length - 1;
  slider.value = value === null ? end : side === "low" ? passed : passed - 1;
  slider.setAttribute("aria-valuetext", value === null ? "no bound" : rounded(value));
}

function readBound(input) {
  const [place, side] = [Number(input.dataset.column), input.dataset.side];
  if (input.type === "range") {
    const { stops } = columns[place];
    const stop = Number(input.value);
    filters[place][side] = stop === (side === "low" ? 0 : stops.length - 1) ? null : stops[stop];
    showInField(place, side);
  } else {
    filters[place][side] = input.value === "" ? null : Number(input.value);
  }
  showOnSlider(place, side);
}

function readLevel(box) {
  const { without } = filters[Number(box.dataset.column)];
  if (box.checked) without.delete(Number(box.value));
  else without.add(Number(box.value));
}

function reset(event) {
  resetFilters();
  document.querySelectorAll("input[type=number]").forEach(({ dataset }) => {
    showInField(Number(dataset.column), dataset.side);
    showOnSlider(Number(dataset.column), dataset.side);
  });
  document.querySelectorAll("input[type=checkbox][data-column]").forEach((box) => { box.checked = true; });
  filtersChanged(event);
}

document.querySelectorAll("input[data-column]").forEach((input) => {
  input.addEventListener("input", (event) => {
    (input.dataset.side ? readBound : readLevel)(input);
    filtersChanged(event);
  });
});
["x", "y", "colour", "x-log", "y-log"].forEach((id) => byId(id).addEventListener("change", redraw));
byId("reset").addEventListener("click", reset);
byId("whole").addEventListener("click", () => Plotly.relayout(chart, { "xaxis.autorange": true, "yaxis.autorange": true }));
byId("picture").addEventListener("click", () => Plotly.downloadImage(chart, { format: "png", scale: 3, filename: "chart" }));
byId("download").addEventListener("click", () => save("runs.csv", csvText(state.selection.shown)));
byId("download-failed").addEventListener("click", () => save("failed_runs.csv", csvText(allFailed)));
window.addEventListener("beforeprint", listRest);
byId("more-failed").addEventListener("click", () => { state.listed += FIRST; listFailures(); });

if (window.matchMedia("(max-width: 62rem)").matches) document.querySelectorAll("details").forEach((panel) => { panel.open = false; });
runsTable.append(sortingHead(tableColumns, sort));
failuresTable.append(tableHead(failureColumns));
byId("reasons").append(tableHead([{ label: "runs", kind: "number" }, { label: "reason" }]), reasonRows(allFailed));
[runsTable, failuresTable].forEach(followArrows);
writeCounts(state.selection);
markSorted();
listRuns();
listFailures();
redraw().then(() => {
  chart.on("plotly_click", ({ points }) => choose(points[0].customdata));
  performance.mark("ready");
});
