// The runs, the filters on them, and the file that a reader takes away.

const study = JSON.parse(document.getElementById("study").textContent);
const failed = study.failed;
const ROWS = failed.length;
const READ = { inf: Infinity, "-inf": -Infinity };
for (const column of study.columns) {
  if (column.kind === "number") {
    column.values = Float64Array.from(column.values, (v) => (v === null ? NaN : (READ[v] ?? v)));
  }
}
const columns = study.columns;
const [run, note] = [columns[0], columns[columns.length - 1]];

// A bound of null is none; a level in `without` is not wanted.
const newFilter = () => ({ low: null, high: null, without: new Set() });
const filters = columns.map(newFilter);
const resetFilters = () => filters.forEach((_, place) => { filters[place] = newFilter(); });

const isSet = ({ low, high, without }) => low !== null || high !== null || without.size > 0;

function passes(place, row) {
  const { low, high, without } = filters[place];
  const value = columns[place].values[row];
  if (columns[place].kind === "text") return !without.has(value);
  return !Number.isNaN(value) && (low === null || value >= low) && (high === null || value <= high);
}

// Failed runs have no responses: only the filters on factors can say whether they belong.
function selectRows() {
  const active = columns.map((_, place) => place).filter((place) => isSet(filters[place]));
  const onFactors = active.filter((place) => columns[place].role === "factor");
  const [shown, failedInside] = [[], []];
  for (let row = 0; row < ROWS; row += 1) {
    const places = failed[row] ? onFactors : active;
    if (places.every((place) => passes(place, row))) (failed[row] ? failedInside : shown).push(row);
  }
  return { shown, failedInside };
}

const isMissing = ({ kind }, value) => (kind === "number" ? Number.isNaN(value) : kind === "text" ? value < 0 : value === "");

// Text of a cell: empty where there is no value, all digits of a number.
function cellText(column, row) {
  const value = column.values[row];
  if (isMissing(column, value)) return "";
  return column.kind === "text" ? column.levels[value] : String(value);
}

const rounded = (number) => (Number.isNaN(number) ? "" : String(Number(number.toPrecision(5))));
const shortText = (column, row) =>
  column.kind === "number" ? rounded(column.values[row]) : cellText(column, row);

function sortedRows(rows, place, descending) {
  const { values } = columns[place];
  const missing = (row) => isMissing(columns[place], values[row]);
  const order = (a, b) => (values[a] < values[b] ? -1 : values[a] > values[b] ? 1 : a - b);
  const known = rows.filter((row) => !missing(row)).sort((a, b) => (descending ? order(b, a) : order(a, b)));
  return known.concat(rows.filter(missing));
}

// The first few of some rows, in the order of others: nothing is sorted when a filter changes.
function firstOf(ordered, rows, count) {
  const wanted = new Uint8Array(ROWS);
  for (const row of rows) wanted[row] = 1;
  const found = [];
  for (let i = 0; i < ordered.length && found.length < count; i += 1) if (wanted[ordered[i]]) found.push(ordered[i]);
  return found;
}

const quoted = (text) => (/[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text);

function csvText(rows) {
  const lines = rows.map((row) => columns.map((column) => quoted(cellText(column, row))).join(","));
  return [columns.map((column) => quoted(column.name)).join(","), ...lines, ""].join("\n");
}

function save(name, text) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([text], { type: "text/csv" }));
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10000);
}
