// What all plots share: axes, lines, legend, and how a plot gets its caption, text alternative and table.
"use strict";
const ringquellPlots = (() => {
  const {data, charts, eng, plain, edgeWord, el, fold} = ringquellPage;
  const check = data.check, require = check.requirement;
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
    const decades = Math.log10(this.max / this.min), roomy = this.chart.width / decades > 170;
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
      if (d.pointStyle === "triangle") {
        ctx.moveTo(14, 6 - r);
        ctx.lineTo(14 + 0.87 * r, 6 + 0.5 * r);
        ctx.lineTo(14 - 0.87 * r, 6 + 0.5 * r);
        ctx.closePath();
      } else if (d.pointStyle === "crossRot") {
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
  const askedLine = (kind, from, to) => bare(`asked of ${kinds[kind].word}: ${plain(kinds[kind].asked)}`,
    [{x: from, y: kinds[kind].asked}, {x: to, y: kinds[kind].asked}], kinds[kind].color, kind === "differential" ? [2, 3] : [1, 5], {borderWidth: 1.5});
  function plot(id, datasets, {x, y, tooltip, plugins = []}) {
    const canvas = document.getElementById(`${id}-plot`);
    charts[id] = new Chart(canvas, {type: "scatter", data: {datasets}, plugins, options: {
      responsive: true, maintainAspectRatio: false, animation: false, parsing: false,
      interaction: {mode: "nearest", intersect: false}, scales: {x, y},
      plugins: {legend: {position: "bottom", labels: {usePointStyle: true, pointStyleWidth: 28, boxHeight: 8, padding: 12, generateLabels: legend,
        filter: (item) => item.text !== "cells" && item.text !== "path line"}},
        tooltip: {callbacks: {label: tooltip || ((item) => `${item.dataset.label}: ${plain(item.parsed.y)}`)}}}}});
    return charts[id];
  }
  function describe(id, caption, alternative, numbers) {
    const figure = document.getElementById(id);
    figure.querySelector("figcaption").textContent = caption;
    const drawn = figure.querySelector("canvas, svg");
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

  return {check, ink, soft, rule, kinds, axis, logAxis, line, bare, byKind, askedLine, plot, describe, least, stageOf, choices};
})();
