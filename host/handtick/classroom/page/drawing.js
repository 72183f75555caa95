// Ticks as a timing diagram: what each captured before the edge, and what it became after.

const SVG = "http://www.w3.org/2000/svg";
const ROW = 34;
const HIGH = 20;
const TOP = 30;
const LETTER = 8;

// How many ticks a sheet of a width, in pixels, has room for.
export function room(buses, width) {
  return Math.max(1, Math.floor((width / scale() - left(buses)) / columnWidth(buses, width)));
}

// An SVG element with ticks; each is {reset, tick, before, after, marks}, one text a bus.
export function draw(buses, ticks, width) {
  const x0 = left(buses);
  const wide = columnWidth(buses, width);
  const columns = withGaps(ticks);
  const height = TOP + ROW * (buses.length + 1) + 6;
  const across = x0 + wide * columns.length + 4;
  const by = scale();
  const svg = element("svg", { width: across * by, height: height * by, viewBox: `0 0 ${across} ${height}`, role: "img" });
  svg.setAttribute("aria-label", spoken(ticks));
  columns.forEach((column, place) => head(svg, column, x0 + place * wide, wide, height));
  name(svg, "clock", 0);
  svg.append(element("path", { class: "ink", d: clock(columns, x0, wide) }));
  buses.forEach((bus, row) => {
    name(svg, bus.name, row + 1);
    track(svg, bus, row, columns, x0, wide);
  });
  return svg;
}

function left(buses) {
  return 14 + LETTER * Math.max(5, ...buses.map((bus) => bus.name.length));
}

// A projector's is drawn larger.
function scale() {
  return document.body.classList.contains("watching") ? 1.3 : 1;
}

function columnWidth(buses, width) {
  const longest = Math.max(2, ...buses.filter((bus) => bus.bits > 1).map((bus) => bus.widest));
  return Math.max(56, 2 * (LETTER * Math.min(longest, width < 600 ? 5 : 9) + 14));
}

function withGaps(ticks) {
  const columns = [];
  ticks.forEach((tick, place) => {
    const before = ticks[place - 1];
    if (before && (before.reset !== tick.reset || before.tick + 1 !== tick.tick)) {
      columns.push(before.reset === tick.reset ? `${tick.tick - before.tick - 1} not shown` : "reset");
    }
    columns.push(tick);
  });
  return columns;
}

function head(svg, column, x, wide, height) {
  if (typeof column === "string") {
    svg.append(element("rect", { class: "doubt", x, y: TOP - 6, width: wide, height: height - TOP }));
    text(svg, column, x + wide / 2, 16, "middle");
    return;
  }
  if (column.marks.length) {
    svg.append(element("rect", { class: "doubt", x, y: TOP - 6, width: wide, height: height - TOP }));
  }
  svg.append(element("path", { class: "guide", d: `M${x + wide / 2} 20V${height - 4}` }));
  text(svg, String(column.tick), x + wide / 2, 16, "middle");
}

function clock(columns, x0, wide) {
  return columns
    .map((column, place) => {
      const x = x0 + place * wide;
      return typeof column === "string" ? "" : `M${x} ${TOP + HIGH}h${wide / 2}v${-HIGH}h${wide * 0.36}v${HIGH}h${wide * 0.14}`;
    })
    .join("");
}

function track(svg, bus, row, columns, x0, wide) {
  const top = TOP + ROW * (row + 1);
  const halves = [];
  for (const column of columns) {
    halves.push(...(typeof column === "string" ? [null, null] : [column.before[row], column.after[row]]));
  }
  let start = 0;
  for (let place = 1; place <= halves.length; place += 1) {
    if (place < halves.length && halves[place] === halves[start]) {
      continue;
    }
    const x = x0 + (start * wide) / 2;
    const end = x0 + (place * wide) / 2;
    if (halves[start] !== null) {
      if (bus.bits === 1) {
        level(svg, halves[start], start > 0 && halves[start - 1] !== null, x, end, top);
      } else {
        span(svg, halves[start], x, end, top);
      }
    }
    start = place;
  }
}

function level(svg, value, joined, x, end, top) {
  const y = value === "1" ? top : top + HIGH;
  const edge = joined ? `M${x} ${top}v${HIGH}` : "";
  svg.append(element("path", { class: "ink", d: `${edge}M${x} ${y}H${end}` }));
}

function span(svg, value, x, end, top) {
  const middle = top + HIGH / 2;
  const low = top + HIGH;
  const d = `M${x} ${middle}L${x + 4} ${top}H${end - 4}L${end} ${middle}L${end - 4} ${low}H${x + 4}Z`;
  svg.append(element("path", { class: "ink", d }));
  const letters = Math.floor((end - x - 12) / LETTER);
  text(svg, value.length <= letters ? value : `${value.slice(0, Math.max(0, letters - 1))}…`, (x + end) / 2, middle + 4.5, "middle");
}

function name(svg, words, row) {
  text(svg, words, 4, TOP + ROW * row + 15, "start");
}

function text(svg, words, x, y, anchor) {
  const node = element("text", { x, y, "text-anchor": anchor });
  node.textContent = words;
  svg.append(node);
}

function element(kind, attributes) {
  const node = document.createElementNS(SVG, kind);
  for (const [key, value] of Object.entries(attributes)) {
    node.setAttribute(key, value);
  }
  return node;
}

function spoken(ticks) {
  if (!ticks.length) {
    return "Timing diagram of no ticks yet";
  }
  return `Timing diagram of ticks ${ticks[0].tick} to ${ticks[ticks.length - 1].tick}; the table of buses has the values`;
}
