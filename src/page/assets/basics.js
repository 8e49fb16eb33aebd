// What every script of a page starts from: its data, numbers in words, elements and tables. Everything is made from the one
// JSON in the page.
"use strict";
const ringquellPage = (() => {
  const data = JSON.parse(document.querySelector("script[type='application/json']").textContent);

  // ---- numbers and words ----

  const prefixes = [[1e9, "G"], [1e6, "M"], [1e3, "k"], [1, ""], [1e-3, "m"], [1e-6, "u"], [1e-9, "n"], [1e-12, "p"], [1e-15, "f"]];
  const plain = (x, digits = 3) => (x === null || x === undefined || !Number.isFinite(x) ? "-" : String(Number(x.toPrecision(digits))));
  /// With an SI prefix and a few significant digits: 134.4 MHz.
  function eng(x, unit, digits = 4) {
    if (x === null || x === undefined || !Number.isFinite(x)) return "-";
    if (x === 0) return "0 " + unit;
    const rounded = Number(x.toPrecision(digits));
    const [scale, prefix] = prefixes.find(([s]) => Math.abs(rounded) >= s * (1 - 1e-12)) || prefixes[prefixes.length - 1];
    return `${Number((rounded / scale).toPrecision(digits))} ${prefix}${unit}`;
  }
  const percent = (x, digits = 3) => (x === null || x === undefined ? "-" : `${Number((100 * x).toPrecision(digits))} %`);
  /// A part's name without folder and ending: whoever reads the page may not have the file.
  const partName = (name) => name.replace(/^.*[/\\]/, "").replace(/\.(ya?ml|csv|s2p|txt)$/i, "");
  const edgeWord = (edge) => (edge === "turn_on" ? "turn-on" : "turn-off");
  const ohms = (x, digits = 3) => eng(x, "ohm", digits);
  /// How fast a mode falls or grows: its envelope goes with exp(-damping ratio * 2 pi * natural frequency * t).
  function pace(mode, words = ["falls to 1/e in ", "doubles in ", "neither falls nor grows"]) {
    const rate = -mode.damping_ratio * 2 * Math.PI * mode.natural_frequency_hz;
    if (!Number.isFinite(rate) || rate === 0) return words[2];
    return rate < 0 ? words[0] + eng(-1 / rate, "s", 3) : words[1] + eng(Math.LN2 / rate, "s", 3);
  }
  /// The same in a table.
  const shortPace = (mode) => (mode ? pace(mode, ["1/e ", "x2 ", "-"]) : "-");
  const paceHeading = "Falls to 1/e or grows x2 in";
  const quoted = (name) => `“${name}”`;

  /// 1 to 4, 6.
  const spans = (numbers) => {
    const out = [];
    for (let k = 0; k < numbers.length;) {
      let end = k;
      while (end + 1 < numbers.length && numbers[end + 1] === numbers[end] + 1) end += 1;
      out.push(end > k + 1 ? `${numbers[k]} to ${numbers[end]}` : numbers.slice(k, end + 1).join(", "));
      k = end + 1;
    }
    return out.join(", ");
  };

  // ---- elements ----

  function el(tag, attributes = {}, ...children) {
    const out = document.createElement(tag);
    for (const [name, value] of Object.entries(attributes)) out.setAttribute(name, value);
    for (const child of children) out.append(child);
    return out;
  }
  const svgSpace = "http://www.w3.org/2000/svg";
  function svg(tag, attributes = {}, text = "") {
    const out = document.createElementNS(svgSpace, tag);
    for (const [name, value] of Object.entries(attributes)) out.setAttribute(name, value);
    if (text !== "") out.textContent = text;
    return out;
  }
  /// `columns`: headings, those with a leading "#" are numbers. The first column of `rows` heads its row.
  function table(caption, columns, rows, look = "") {
    const number = columns.map((c) => c.startsWith("#"));
    const head = el("tr");
    columns.forEach((c, k) => head.append(el("th", {scope: "col", ...(number[k] ? {class: "number"} : {})}, c.replace(/^#/, ""))));
    const body = el("tbody");
    for (const row of rows) {
      const line = el("tr", row.chosen ? {class: "chosen"} : {});
      (row.cells || row).forEach((text, k) => {
        line.append(k === 0 ? el("th", {scope: "row"}, String(text)) : el("td", number[k] ? {class: "number"} : {}, String(text)));
      });
      body.append(line);
    }
    return stacked(el("table", look === "" ? {} : {class: look}, el("caption", {}, caption), el("thead", {}, head), body));
  }
  /// On a narrow screen page.css makes a block of each row, in which every cell says what its column is. The roles are what the
  /// elements have anyway, for browsers that forget them then.
  function stacked(made) {
    const headings = [...made.querySelectorAll("thead th")].map((h) => h.textContent);
    if (headings.length === 0) return made;
    made.classList.add("stacks");
    made.setAttribute("role", "table");
    for (const part of made.querySelectorAll("thead, tbody")) part.setAttribute("role", "rowgroup");
    for (const heading of made.querySelectorAll("thead th")) heading.setAttribute("role", "columnheader");
    for (const row of made.rows) row.setAttribute("role", "row");
    const long = 24;  // letters, more than a column of the block holds
    for (const row of made.querySelectorAll("tbody tr")) {
      let column = 0;
      for (const cell of row.cells) {
        cell.setAttribute("role", cell.tagName === "TH" ? "rowheader" : "cell");
        // A row's own name says what it is, unless it is a number.
        if (cell.colSpan === 1 && (cell.tagName === "TD" || /^[0-9]/.test(cell.textContent))) cell.dataset.label = headings[column];
        if (cell.textContent.length > long || cell.colSpan > 1 || cell.querySelector(".key")) cell.classList.add("long");
        column += cell.colSpan;
      }
    }
    return made;
  }
  for (const written of document.querySelectorAll("main table")) stacked(written);
  function scrolled(label, ...children) {
    return el("div", {class: "scroll", tabindex: "0", role: "region", "aria-label": label}, ...children);
  }

  // ---- folded tables, made when they are first opened (or printed) ----

  const folded = [];
  function fold(details, make) {
    const place = details.querySelector(".scroll");
    let made = false;
    const build = () => {
      if (made) return;
      made = true;
      place.replaceChildren(...[make()].flat());
      place.setAttribute("aria-label", place.querySelector("caption").textContent);
    };
    details.addEventListener("toggle", () => details.open && build());
    const forget = () => {
      made = false;
      place.replaceChildren();
    };
    folded.push({details, place, build, forget, again: () => {
      forget();
      if (details.open) build();
    }});
    return folded[folded.length - 1];
  }

  return {data, charts: {}, eng, plain, percent, ohms, pace, shortPace, paceHeading, partName, edgeWord, quoted, spans, el, svg, table, scrolled, fold, folded};
})();
