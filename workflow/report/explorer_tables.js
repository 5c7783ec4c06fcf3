// Tables of runs, and all numbers of one run. All texts are set as text, never as markup.

const FIRST = 200;
const IN_VIEW = 30;
const WHY = "why it failed";

function element(tag, text, attributes = {}) {
  const made = document.createElement(tag);
  if (text !== null) made.textContent = text;
  Object.entries(attributes).forEach(([name, value]) => made.setAttribute(name, value));
  return made;
}

// Of all runs in a table one is reached by Tab; the arrow keys lead to the others.
function runButton(row, choose) {
  const button = element("button", run.values[row], { type: "button", tabindex: "-1", "data-row": row });
  button.addEventListener("click", () => choose(row, button));
  return button;
}

const STEPS = { ArrowDown: (i) => i + 1, ArrowUp: (i) => i - 1, Home: () => 0, End: () => Infinity };

function followArrows(table) {
  table.addEventListener("keydown", (event) => {
    const buttons = [...table.querySelectorAll("tbody button")];
    const here = buttons.indexOf(event.target);
    if (here < 0 || !(event.key in STEPS)) return;
    event.preventDefault();
    const there = Math.min(Math.max(STEPS[event.key](here), 0), buttons.length - 1);
    buttons[here].tabIndex = -1;
    buttons[there].tabIndex = 0;
    buttons[there].focus();
  });
}

function tableLines(rows, shownColumns, choose) {
  const lines = document.createDocumentFragment();
  for (const row of rows) {
    const line = element("tr", null);
    const head = element("th", null, { scope: "row" });
    head.append(runButton(row, choose));
    line.append(head);
    for (const column of shownColumns.slice(1)) {
      line.append(element("td", shortText(column, row) || "–", column.kind === "number" ? { class: "number" } : {}));
    }
    lines.append(line);
  }
  return lines;
}

function tableBody(rows, shownColumns, choose) {
  const body = element("tbody", null);
  body.append(tableLines(rows, shownColumns, choose));
  const first = body.querySelector("button");
  if (first) first.tabIndex = 0;
  return body;
}

function tableHead(shownColumns) {
  const head = element("thead", null);
  const line = element("tr", null);
  shownColumns.forEach((column) => {
    const cell = element("th", column === note ? WHY : column.label, { scope: "col" });
    if (column.kind === "number") cell.className = "number";
    line.append(cell);
  });
  head.append(line);
  return head;
}

function sortingHead(shownColumns, sort) {
  const head = tableHead(shownColumns);
  [...head.rows[0].cells].forEach((cell, i) => {
    const button = element("button", shownColumns[i].label, { type: "button" });
    button.addEventListener("click", () => sort(columns.indexOf(shownColumns[i])));
    cell.replaceChildren(button);
  });
  return head;
}

function replaceBody(table, body) {
  table.tBodies[0]?.remove();
  table.append(body);
}

function reasonRows(rows) {
  const counts = new Map();
  const reason = (row) => note.values[row].trim() || "no reason was noted, and the run has no responses";
  rows.forEach((row) => counts.set(reason(row), (counts.get(reason(row)) ?? 0) + 1));
  const body = element("tbody", null);
  for (const [text, count] of [...counts].sort((a, b) => b[1] - a[1])) {
    const line = element("tr", null);
    line.append(element("td", String(count), { class: "number" }), element("td", text));
    body.append(line);
  }
  return body;
}

function details(row) {
  const list = element("dl", null);
  for (const column of columns) {
    const text = cellText(column, row);
    if (column === note && text === "") continue;
    const pair = element("div", null);
    const value = element("dd", text || "no value", { "data-name": column.name });
    if (column === note) value.className = "failure";
    pair.append(element("dt", column === note ? WHY : column.label), value);
    list.append(pair);
  }
  return list;
}

function markChosen(row) {
  document.querySelectorAll("tbody tr").forEach((line) => {
    const button = line.querySelector("button");
    line.classList.toggle("is-chosen", button !== null && Number(button.dataset.row) === row);
  });
}
