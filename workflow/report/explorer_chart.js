// The scatter chart of two columns, coloured by a third.

const MANY = 2000;
const FAILED_COLOUR = "#8a2b00";
const OUTLINE = { color: "rgba(28,28,28,0.55)", width: 0.6 };
const NO_COLOUR = "#767676";
const SYMBOLS = ["circle", "square", "diamond", "triangle-up", "triangle-down", "pentagon", "star", "hexagram"];
// The library would offer to send the chart to its makers: only the listed buttons, and no address.
const CONFIG = {
  responsive: true,
  displaylogo: false,
  displayModeBar: true,
  modeBarButtons: [["zoom2d", "pan2d", "zoomIn2d", "zoomOut2d"]],
  showSendToCloud: false,
  plotlyServerURL: "",
  plotGlPixelRatio: window.devicePixelRatio,
};
const chart = document.getElementById("chart");
// Its width is observed: to ask for it would make the browser lay out the page at once.
const NARROW_PX = 620;
let narrow = chart.clientWidth < NARROW_PX;
new ResizeObserver(([{ contentRect }]) => { narrow = contentRect.width < NARROW_PX; }).observe(chart);
const hasWebGL = Boolean(document.createElement("canvas").getContext("webgl"));
const traceType = ROWS > MANY && hasWebGL ? "scattergl" : "scatter";
const scale = study.colours.map((colour, i) => [i / (study.colours.length - 1), colour]);

// The chart library reads tags in its texts; ours are to be seen as they are.
const plain = (text) => text.replaceAll("&", "&amp;").replaceAll("<", "&lt;").replaceAll(">", "&gt;");
const wrapped = (text) => plain(text).replace(/(.{24,}?) /g, "$1<br>");
const colourOf = (part, whole) => study.colours[Math.round((part / Math.max(whole - 1, 1)) * (study.colours.length - 1))];

function hasPlace(place, row, logarithmic) {
  const value = columns[place].values[row];
  return columns[place].kind === "text" ? value >= 0 : Number.isFinite(value) && !(logarithmic && value <= 0);
}

// Filters change often and these texts do not: they are kept while the columns stay the same.
const hover = { key: "", texts: [] };

function hoverText(row, places) {
  if (hover.key !== places.join()) Object.assign(hover, { key: places.join(), texts: [] });
  return (hover.texts[row] ??= newHoverText(row, places));
}

function newHoverText(row, places) {
  const lines = places.map((place) => `${columns[place].label}: ${shortText(columns[place], row) || "no value"}`);
  return [`run ${run.values[row]}`, ...lines].map(plain).join("<br>");
}

function trace(rows, view, marker, name) {
  const places = [view.x, view.y, ...(view.colour === null ? [] : [view.colour])];
  return {
    type: traceType,
    mode: "markers",
    x: rows.map((row) => columns[view.x].values[row]),
    y: rows.map((row) => columns[view.y].values[row]),
    customdata: rows,
    text: rows.map((row) => hoverText(row, places)),
    hoverinfo: "text",
    marker: { size: ROWS > MANY ? 4 : 9, opacity: ROWS > MANY ? 0.75 : 0.9, line: OUTLINE, ...marker },
    name: wrapped(name),
    showlegend: name !== "",
  };
}

function colouredByNumber(rows, view) {
  const column = columns[view.colour];
  const known = rows.filter((row) => Number.isFinite(column.values[row]));
  const bar = narrow
    ? { orientation: "h", y: -0.22, yanchor: "top", thickness: 12, title: { text: wrapped(column.label), side: "bottom" } }
    : { thickness: 14, title: { text: wrapped(column.label), side: "right" } };
  const marker = { color: known.map((row) => column.values[row]), colorscale: scale, showscale: true, colorbar: bar };
  const traces = [trace(known, view, marker, "")];
  const others = rows.filter((row) => !Number.isFinite(column.values[row]));
  if (others.length) traces.push(trace(others, view, { color: NO_COLOUR }, "no number for the colour"));
  return traces;
}

function colouredByLevel(rows, view) {
  const column = columns[view.colour];
  const groups = new Map(column.levels.map((_, level) => [level, []]).concat([[-1, []]]));
  rows.forEach((row) => groups.get(column.values[row]).push(row));
  const marker = (level) =>
    level < 0
      ? { color: NO_COLOUR }
      : { color: colourOf(level, column.levels.length), symbol: SYMBOLS[level % SYMBOLS.length] };
  return [...groups]
    .filter(([, group]) => group.length)
    .map(([level, group]) => trace(group, view, marker(level), level < 0 ? "no value" : column.levels[level]));
}

function coloured(rows, view) {
  if (view.colour === null) return [trace(rows, view, { color: study.colours[8] }, "")];
  const byNumber = columns[view.colour].kind === "number";
  return byNumber ? colouredByNumber(rows, view) : colouredByLevel(rows, view);
}

function axis(place, logarithmic) {
  const column = columns[place];
  const common = { title: { text: plain(column.label) }, automargin: true, zeroline: false, gridcolor: "#dedede", linecolor: "#6b6b6b", showline: true };
  if (column.kind === "number") return { ...common, type: logarithmic ? "log" : "linear" };
  const ticks = column.levels.map((_, level) => level);
  return { ...common, type: "linear", tickvals: ticks, ticktext: column.levels.map(wrapped), range: [-0.5, ticks.length - 0.5] };
}

function layout(view) {
  return {
    margin: { l: 60, r: 10, t: 44, b: 50 },
    modebar: { color: "#4d4d4d", activecolor: "#0b4f8a", bgcolor: "rgba(255,255,255,0)" },
    font: { family: "DejaVu Sans, Verdana, Arial, sans-serif", size: 13, color: "#1c1c1c" },
    xaxis: axis(view.x, view.xLog),
    yaxis: axis(view.y, view.yLog),
    hovermode: "closest",
    hoverlabel: { align: "left", bgcolor: "#ffffff", bordercolor: "#1c1c1c", font: { color: "#1c1c1c" } },
    legend: narrow ? { orientation: "h", y: -0.22, yanchor: "top" } : { title: { text: legendTitle(view) } },
    uirevision: [view.x, view.y, view.xLog, view.yLog].join(),
  };
}

const legendTitle = ({ colour }) => (colour === null || columns[colour].kind === "number" ? "" : wrapped(columns[colour].label));

// The completed and the failed runs that have a place on these axes.
const isPlaced = (row, view) => hasPlace(view.x, row, view.xLog) && hasPlace(view.y, row, view.yLog);
const placedRuns = ({ shown, failedInside }, view) => ({
  drawn: shown.filter((row) => isPlaced(row, view)),
  crosses: failedInside.filter((row) => isPlaced(row, view)),
});

function draw({ drawn, crosses }, view, chosen) {
  const traces = coloured(drawn, view);
  if (crosses.length) traces.push(trace(crosses, view, { color: FAILED_COLOUR, symbol: "x-thin", line: { color: FAILED_COLOUR, width: 2 } }, "failed"));
  if (chosen !== null && isPlaced(chosen, view)) {
    const ring = { size: 17, color: "rgba(0,0,0,0)", opacity: 1, line: { color: "#000000", width: 2.5 } };
    traces.push({ ...trace([chosen], view, ring, ""), type: "scatter", hoverinfo: "skip" });
  }
  return Plotly.react(chart, traces, layout(view), CONFIG);
}
