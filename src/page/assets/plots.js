// What all plots share: axes, lines, legend, and how a plot gets its caption, text alternative and table.
"use strict";
const ringquellPlots = (() => {
  const {data, charts, eng, plain, edgeWord, el, fold} = ringquellPage;
  // Of two cases side by side the first one's; a page without points has its requirement alone.
  const check = data.check || (data.a ? data.a.check : {requirement: data.requirement, points: []}), require = check.requirement;
  const css = getComputedStyle(document.documentElement);
  const ink = css.getPropertyValue("--ink").trim(), soft = css.getPropertyValue("--soft").trim(), rule = css.getPropertyValue("--rule").trim();
  const kinds = {
    differential: {word: "differential modes", color: css.getPropertyValue("--differential").trim(), style: "circle", dash: [],
      asked: require.differential_damping},
    common: {word: "common modes", color: css.getPropertyValue("--common").trim(), style: "triangle", dash: [7, 4],
      asked: require.common_damping === undefined ? null : require.common_damping},
  };

  Chart.defaults.font.family = getComputedStyle(document.body).fontFamily;
  Chart.defaults.font.size = 13;
  Chart.defaults.color = ink;
  Chart.defaults.animation = false;

  const axis = (title, more = {}) => ({type: "linear", title: {display: true, text: title}, grid: {color: "#e3e6e9"}, ...more});
  /// A logarithmic axis labels 1, 2 and 5 of each decade, or 1 alone where there is no room.
  const logAxis = (title, unit, more = {}) => axis(title, {type: "logarithmic", ticks: {maxRotation: 0, autoSkip: false, callback(x) {
    const mantissa = x / 10 ** Math.floor(Math.log10(x) + 1e-9), digit = Math.round(mantissa);
    if (Math.abs(mantissa - digit) > 1e-6) return null;  // an end of the axis
    const decades = Math.log10(this.max / this.min), roomy = this.isHorizontal() ? this.width / decades > 170 : this.height / decades > 90;
    return digit === 1 || (roomy && (digit === 2 || digit === 5)) ? eng(x, unit, 2) : null;
  }}, ...more});
  const line = (label, points, look = {}) => ({label, data: points, showLine: true, borderWidth: 2, pointRadius: 0, fill: false, ...look});
  const byKind = (kind, points, look = {}) => line(kinds[kind].word, points, {borderColor: kinds[kind].color, backgroundColor: kinds[kind].color,
    borderDash: kinds[kind].dash, pointStyle: kinds[kind].style, pointRadius: 3, ...look});
  /// What the legend shows of a dataset: its line with its dashes, and its mark.
  function sample(d) {
    const canvas = el("canvas", {width: 28, height: 12}), ctx = canvas.getContext("2d");
    ctx.strokeStyle = d.borderColor;
    ctx.fillStyle = d.backgroundColor || d.borderColor;
    ctx.lineWidth = d.borderWidth;
    if (d.showLine) {
      ctx.setLineDash(d.borderDash || []);
      ctx.beginPath();
      ctx.moveTo(0, 6);
      ctx.lineTo(28, 6);
      ctx.stroke();
      ctx.setLineDash([]);
    }
    if (d.pointRadius > 0) {
      const r = Math.min(5, Math.max(2, d.pointRadius));
      ctx.beginPath();
      const mark = d.mark || d.pointStyle;
      if (mark === "triangle") {
        ctx.moveTo(14, 6 - r);
        ctx.lineTo(14 + 0.87 * r, 6 + 0.5 * r);
        ctx.lineTo(14 - 0.87 * r, 6 + 0.5 * r);
        ctx.closePath();
      } else if (mark === "crossRot") {
        ctx.moveTo(14 - r, 6 - r);
        ctx.lineTo(14 + r, 6 + r);
        ctx.moveTo(14 - r, 6 + r);
        ctx.lineTo(14 + r, 6 - r);
      } else {
        ctx.arc(14, 6, r, 0, 2 * Math.PI);
      }
      ctx.lineWidth = 1.2;
      ctx.fill();
      if (d.borderColor !== "#ffffff") ctx.stroke();
    }
    return canvas;
  }
  const legend = (chart) => Chart.defaults.plugins.legend.labels.generateLabels(chart)
    .map((item) => ({...item, pointStyle: sample(chart.data.datasets[item.datasetIndex])}));
  const bare = (label, points, color, dash, more = {}) => line(label, points, {borderColor: color, backgroundColor: color, borderDash: dash, ...more});
  const askedLine = (kind, from, to, whose = "") => bare(`asked of ${whose === "" ? "" : `${whose}'s `}${kinds[kind].word}: ${plain(kinds[kind].asked)}`,
    [{x: from, y: kinds[kind].asked}, {x: to, y: kinds[kind].asked}], kinds[kind].color, kind === "differential" ? [2, 3] : [1, 5], {borderWidth: 1.5});
  /// `scales`: more axes than these two, by their names; of a stack the first is the lowest. What is `quiet` has no place in the legend.
  function plot(id, datasets, {x, y, scales = {}, tooltip, plugins = []}) {
    const canvas = document.getElementById(`${id}-plot`);
    charts[id] = new Chart(canvas, {type: "scatter", data: {datasets}, plugins, options: {
      responsive: true, maintainAspectRatio: false, animation: false, parsing: false,
      interaction: {mode: "nearest", intersect: false}, scales: {x, ...scales, y},
      plugins: {legend: {position: "bottom", labels: {usePointStyle: true, pointStyleWidth: 28, boxHeight: 8, padding: 12, generateLabels: legend,
        filter: (item, d) => item.text !== "cells" && item.text !== "path line" && !d.datasets[item.datasetIndex].quiet}},
        tooltip: {callbacks: {label: tooltip || ((item) => `${item.dataset.label}: ${plain(item.parsed.y)}`)}}}}});
    return charts[id];
  }
  function describe(id, caption, alternative, numbers) {
    const figure = document.getElementById(id);
    figure.querySelector("figcaption").textContent = caption;
    const drawn = figure.querySelector(".plot canvas, .plot svg");
    drawn.setAttribute("aria-label", alternative);
    if (drawn.tagName === "CANVAS") drawn.textContent = alternative;
    return fold(figure.querySelector("details.numbers"), numbers);
  }

  const least = (modes, kind) => modes.filter((m) => m.kind === kind).reduce((a, m) => (a === null || m.damping_ratio < a.damping_ratio ? m : a), null);
  // Explicit points are no walk: few of them stand apart, each with its name.
  const few = check.points.length <= 10;
  const stageOf = (name) => {
    const parts = /^(turn_on|turn_off) (\w+) \d+( at .*)?$/.exec(name);
    return parts ? `${edgeWord(parts[1])} ${parts[2]}${parts[3] || ""}` : few ? name : "points";
  };

  /// Radio buttons; hidden where there is nothing to choose.
  function choices(fieldset, name, options, chosen, change) {
    options.forEach(([value, word]) => {
      const input = el("input", {type: "radio", name, value, ...(value === chosen ? {checked: ""} : {})});
      input.addEventListener("change", () => input.checked && change(value));
      fieldset.append(el("label", {}, input, word));
    });
    if (options.length < 2) fieldset.hidden = true;
  }

  // ---- the stages of a walk below its axis ----

  const stageFont = () => `12px ${Chart.defaults.font.family}`;
  /// Words in lines that are not wider than `width`, but for words that are.
  function wrapped(ctx, text, width) {
    const lines = [];
    for (const word of text.split(" ")) {
      const longer = lines.length > 0 ? `${lines[lines.length - 1]} ${word}` : word;
      if (lines.length > 0 && ctx.measureText(longer).width <= width) lines[lines.length - 1] = longer;
      else lines.push(word);
    }
    return lines;
  }
  /// The lines of every stage's name; upright where a word is wider than its stage.
  function stageLines(ctx, stages, width, points) {
    ctx.font = stageFont();
    const room = (s) => ((s.to - s.from + 1) / points) * width - 4;
    const lines = stages.map((s) => wrapped(ctx, s.name, room(s)));
    const upright = stages.some((s, k) => lines[k].some((l) => ctx.measureText(l).width > room(s) + 8));
    const height = upright ? Math.max(...stages.map((s) => ctx.measureText(s.name).width)) + 4 : 13 * Math.max(...lines.map((l) => l.length)) + 2;
    return {lines, upright, height};
  }
  /// An axis of points in the order of the walk, with room for the names of the stages.
  const walkAxis = (stages, end) => axis("", {min: -0.5, max: end - 0.5, ticks: {callback: () => " ", maxRotation: 0}, grid: {display: false}, title: {display: false},
    afterFit: (scale) => { scale.height = 24 + stageLines(scale.chart.ctx, stages, scale.width, end).height; }});
  /// The stages' names below it, a line between two, and the line of zero.
  const stageMarks = (stages, end) => ({id: "stages", afterDatasetsDraw(chart) {
    const {ctx, chartArea: area, scales} = chart;
    ctx.save();
    const {lines, upright, height} = stageLines(ctx, stages, area.right - area.left, end);
    ctx.fillStyle = soft;
    ctx.strokeStyle = rule;
    ctx.textAlign = "center";
    stages.forEach((s, k) => {
      const from = scales.x.getPixelForValue(s.from - 0.5), to = scales.x.getPixelForValue(s.to + 0.5);
      if (k > 0) {
        ctx.beginPath();
        ctx.moveTo(from, area.top);
        ctx.lineTo(from, area.bottom);
        ctx.stroke();
      }
      if (upright && to - from < 12) return;  // a single point among many
      if (upright) {
        ctx.save();
        ctx.translate((from + to) / 2 + 4, area.bottom + 6);
        ctx.rotate(-Math.PI / 2);
        ctx.textAlign = "right";
        ctx.fillText(s.name, 0, 0);
        ctx.restore();
      } else {
        lines[k].forEach((w, n) => ctx.fillText(w, (from + to) / 2, area.bottom + 15 + 13 * n));
      }
    });
    ctx.font = `${Chart.defaults.font.size}px ${Chart.defaults.font.family}`;
    ctx.fillStyle = ink;
    ctx.fillText("points in the order of the walk", (area.left + area.right) / 2, area.bottom + height + 18);
    const zero = scales.y.getPixelForValue(0);
    if (zero > area.top && zero < area.bottom) {
      ctx.strokeStyle = ink;
      ctx.beginPath();
      ctx.moveTo(area.left, zero);
      ctx.lineTo(area.right, zero);
      ctx.stroke();
    }
    ctx.restore();
  }});

  return {check, ink, soft, rule, kinds, axis, logAxis, line, bare, byKind, askedLine, plot, describe, least, stageOf, walkAxis, stageMarks, choices};
})();
