// What the maps share: cells shaded by how their damping stands to what is asked, each with its number.
"use strict";
const ringquellMap = (() => {
  const {plain, el, svg} = ringquellPage;
  const {ink} = ringquellPlots;

  const classes = [
    {word: "grows", color: "#5c2200", text: "#ffffff"},
    {word: "less than asked", color: "#e39a4c", text: "#1d2125"},
    {word: "as asked", color: "#c9dcee", text: "#1d2125"},
    {word: "twice what is asked, or more", color: "#2d6ea5", text: "#ffffff"},
    {word: "no such mode in the band", color: "#ffffff", text: "#4b535b"},
  ];
  function classOf(v, asked) {
    if (v === null) return classes[4];
    return v < 0 ? classes[0] : v < asked ? classes[1] : v < 2 * asked ? classes[2] : classes[3];
  }
  /// The number of a cell, or a sign where there is no room for it.
  function cellWords(ctx, value, c, {left, right, top, bottom}) {
    const words = value === null ? "-" : plain(value, 2);
    ctx.fillStyle = c.text;
    if (ctx.measureText(words).width < right - left - 3 && bottom - top > 12) ctx.fillText(words, (left + right) / 2, (top + bottom) / 2);
    else if (right - left < 7 || bottom - top < 9) return;
    else if (c === classes[0]) ctx.fillText("−", (left + right) / 2, (top + bottom) / 2);
    else if (c === classes[1]) ctx.fillText("<", (left + right) / 2, (top + bottom) / 2);
  }
  /// Of {x: [from, to], y: [from, to], v, free}: free, and the number is written.
  const cellsBehind = (cells, asked) => ({id: "map", beforeDatasetsDraw(chart) {
    const {ctx, scales, chartArea: area} = chart;
    ctx.save();
    ctx.beginPath();
    ctx.rect(area.left, area.top, area.right - area.left, area.bottom - area.top);
    ctx.clip();
    ctx.font = `11px ${Chart.defaults.font.family}`;
    ctx.textAlign = "center";
    ctx.textBaseline = "middle";
    for (const cell of cells()) {
      const [left, right] = cell.x.map((x) => scales.x.getPixelForValue(x)), [bottom, top] = cell.y.map((y) => scales.y.getPixelForValue(y));
      const c = classOf(cell.v, asked());
      ctx.fillStyle = c.color;
      ctx.fillRect(left, top, right - left + 0.6, bottom - top + 0.6);
      ctx.strokeStyle = "#ffffff";
      ctx.strokeRect(left, top, right - left, bottom - top);
      if (cell.free) cellWords(ctx, cell.v, c, {left: Math.max(left, area.left), right: Math.min(right, area.right), top: Math.max(top, area.top), bottom: Math.min(bottom, area.bottom)});
    }
    ctx.restore();
  }});
  const swatches = () => classes.map((c) => {
    const swatch = svg("svg", {viewBox: "0 0 26 18", "aria-hidden": "true"});
    swatch.append(svg("rect", {x: 0.5, y: 0.5, width: 25, height: 17, fill: c.color, stroke: ink}));
    return el("li", {}, swatch, c.word);
  });
  return {cellsBehind, swatches};
})();
