// The plots. Each has a caption, a text alternative and a table with its numbers.
"use strict";
(() => {
  const {data, eng, plain, percent, ohms, pace, shortPace, paceHeading, partName, edgeWord, quoted, spans, svg, table} = ringquellPage;
  const {check, ink, rule, kinds, axis, logAxis, line, bare, byKind, askedLine, plot, describe, least, stageOf, walkAxis, stageMarks, choices} = ringquellPlots;
  const require = check.requirement;

  // ---- damping along the path ----

  /// The least of each kind at each point, in the order of the walk; a gap between stages.
  function walked() {
    const stages = [], series = {differential: [], common: []}, unjudged = {differential: [], common: []};
    let x = 0;
    check.points.forEach((p, index) => {
      const stage = stageOf(p.name);
      if (stages.length === 0 || stages[stages.length - 1].name !== stage) {
        if (stages.length > 0) {
          for (const kind of Object.keys(series)) series[kind].push({x, y: NaN});
          x += 1;
        }
        stages.push({name: stage, from: x, to: x});
      }
      stages[stages.length - 1].to = x;
      for (const kind of Object.keys(series)) {
        const mode = least(p.modes, kind);
        if (mode) (p.judged ? series : unjudged)[kind].push({x, y: mode.damping_ratio, mode, index});
        else series[kind].push({x, y: NaN});
      }
      x += 1;
    });
    return {stages, series, unjudged, end: x};
  }

  function pathDatasets({series, unjudged, end}) {
    const datasets = [];
    for (const kind of Object.keys(series)) {
      if (series[kind].some((p) => Number.isFinite(p.y))) datasets.push(byKind(kind, series[kind]));
      if (unjudged[kind].length > 0)
        datasets.push(byKind(kind, unjudged[kind], {label: `${kinds[kind].word}, shown but not judged`, showLine: false, pointStyle: "crossRot", pointRadius: 4}));
    }
    for (const kind of Object.keys(series))
      if (kinds[kind].asked !== null && (kind === "common" || check.positions > 1)) datasets.push(askedLine(kind, -0.5, end - 0.5));
    return datasets;
  }

  function pathTable() {
    const growing = (name) => check.growing.filter((g) => g.point === name).length;
    return table("Damping along the path", ["Point", "#vds", "#Current", "#Differential", "#at", `#${paceHeading}`, "#Common", "#at", `#${paceHeading}`, "#Growing modes", "Judged"],
      check.points.map((p) => {
        const d = least(p.modes, "differential"), c = least(p.modes, "common");
        return [p.name, eng(p.vds_v, "V"), eng(p.current_a, "A"), d ? plain(d.damping_ratio) : "-", d ? eng(d.natural_frequency_hz, "Hz") : "-", shortPace(d),
          c ? plain(c.damping_ratio) : "-", c ? eng(c.natural_frequency_hz, "Hz") : "-", shortPace(c), growing(p.name), p.judged ? "yes" : "no"];
      }));
  }

  function drawPath() {
    const walk = walked();
    plot("path-figure", pathDatasets(walk), {
      x: walkAxis(walk.stages, walk.end), y: axis("damping ratio"), plugins: [stageMarks(walk.stages, walk.end)],
      tooltip: (item) => (item.raw.mode ? `${check.points[item.raw.index].name}: ${item.raw.mode.kind}, ${plain(item.raw.y)} at ${eng(item.raw.mode.natural_frequency_hz, "Hz")}, ${pace(item.raw.mode)}` :
        item.dataset.label)});
    const words = Object.keys(kinds).map((kind) => {
      const worst = check.worst[kind], asked = kinds[kind].asked;
      if (worst.point === undefined) return `No judged point has a ${kind} mode in the band.`;
      return `The least damped ${kind} mode has ${plain(worst.damping_ratio)}${asked === null ? "" : ` (asked: ${plain(asked)})`} at ${quoted(worst.point)} and ${pace(worst)}.`;
    }).join(" ");
    describe("path-figure", `The least damped mode of each kind in the band, at every point of the path. Below zero it grows by itself. ${words}`,
      `Plot of the damping ratio at ${check.points.length} points along the switching path. ${words}`, pathTable);
  }

  // ---- damping against resistance ----

  const sizing = (edge) => check.gate_resistance[edge];
  const swept = (sweep) => (sweep.points < sweep.points_of_edge ? ` Swept at the ${sweep.points} hardest of the edge's ${sweep.points_of_edge} points only.` : "");

  /// The acceptable windows behind the curves, and what is fitted and preferred.
  const windowMarks = (s) => ({id: "windows", beforeDatasetsDraw(chart) {
    const {ctx, chartArea: area, scales} = chart;
    ctx.save();
    for (const [low, high] of s.acceptable_ohm) {
      const from = scales.x.getPixelForValue(low), to = scales.x.getPixelForValue(high);
      ctx.fillStyle = "#eaf0f6";
      ctx.fillRect(from, area.top, to - from, area.bottom - area.top);
      ctx.fillStyle = ink;
      ctx.font = `12px ${Chart.defaults.font.family}`;
      if (to - from > 80) ctx.fillText("acceptable", from + 6, area.bottom - 8);
      ctx.strokeStyle = ink;
      ctx.setLineDash([3, 3]);
      ctx.strokeRect(from, area.top, to - from, area.bottom - area.top);
    }
    const mark = (ohm, word, row) => {
      if (ohm === null || ohm === undefined) return;
      const at = scales.x.getPixelForValue(ohm);
      ctx.setLineDash([]);
      ctx.strokeStyle = ink;
      ctx.beginPath();
      ctx.moveTo(at, area.top);
      ctx.lineTo(at, area.bottom);
      ctx.stroke();
      ctx.fillStyle = ink;
      const words = `${word} ${ohms(ohm)}`, left = at + ctx.measureText(words).width + 8 > area.right;
      ctx.textAlign = left ? "right" : "left";
      ctx.fillText(words, at + (left ? -4 : 4), area.top + 14 + row);
    };
    mark(s.fitted_ohm, "fitted", 0);
    const apart = s.preferred_ohm === null || Math.abs(scales.x.getPixelForValue(s.preferred_ohm) - scales.x.getPixelForValue(s.fitted_ohm)) > 110;
    mark(s.preferred_ohm, "preferred", apart ? 0 : 17);
    ctx.restore();
  }});

  function drawResistance(sweep) {
    const id = `resistance-${sweep.edge}`, s = sizing(sweep.edge);
    const curve = (kind) => sweep.values.map((v) => ({x: v.ohm, y: v[kind] ? v[kind].damping_ratio : NaN, kind, value: v}));
    const limit = sweep.values[sweep.values.length - 1].ohm;
    const datasets = ["differential", "common"].map((kind) => [kind, curve(kind)]).filter(([, points]) => points.some((p) => Number.isFinite(p.y)))
      .map(([kind, points]) => byKind(kind, points));
    for (const kind of ["differential", "common"])
      if (kinds[kind].asked !== null && (kind === "common" || check.positions > 1)) datasets.push(askedLine(kind, 0, limit));
    plot(id, datasets, {x: axis(`${sweep.key} for ${edgeWord(sweep.edge)} (ohm)`, {min: 0, max: limit}), y: axis("least damping ratio"), plugins: [windowMarks(s)],
      tooltip: (item) => (item.raw.value ? `${ohms(item.raw.x)}: ${item.dataset.label}, ${plain(item.raw.y)}, ` +
        `${pace(item.raw.value[item.raw.kind])}` : item.dataset.label)});
    const windows = s.acceptable_ohm.length === 0 ? "No value is acceptable." : `Acceptable: ${s.acceptable_ohm.map(([a, b]) => `${plain(a, 4)} to ${plain(b, 4)} ohm`).join("; ")}.`;
    const words = `${windows} Fitted: ${ohms(s.fitted_ohm)}. Preferred: ${s.preferred_ohm === null ? "none" : ohms(s.preferred_ohm)}.`;
    describe(id, `${edgeWord(sweep.edge)}: the least damping over the edge's points, with one gate resistor at every position. ${words} ` +
      `The windows judge differential modes; the common ones are drawn beside them.${swept(sweep)}`,
      `Plot of the least damping ratio against the gate resistor for ${edgeWord(sweep.edge)}, ${sweep.values.length} values. ${words}`,
      () => table(`Least damping against the gate resistor, ${edgeWord(sweep.edge)}`, ["Gate resistor", "#Differential", `#${paceHeading}`, "at point", "#Common", `#${paceHeading}`, "at point",
        "#Growing modes", ofHeld(sweep.edge) ? "Requirement, points judged held" : "Whole requirement"], sweep.values.map((v) => [ohms(v.ohm, 5), v.differential ? plain(v.differential.damping_ratio) : "-",
        shortPace(v.differential), v.differential ? v.differential.point : "-", v.common ? plain(v.common.damping_ratio) : "-", shortPace(v.common), v.common ? v.common.point : "-", v.growing,
        v.passes ? "passes" : "fails"])));
  }

  // ---- roots and the slider ----

  /// A sweep is of the points judged held.
  const ofHeld = (edge) => (check.passages.some((p) => p.edge === edge) ? " at the points judged held (what is judged in passing is in the verdict alone)" : "");

  function rootsWords(sweep, v) {
    const at = (m, kind) => (m ? `the least damped ${kind} mode has ${plain(m.damping_ratio)} at ${eng(m.natural_frequency_hz, "Hz")} and ${pace(m)}, ${quoted(m.point)}` :
      `no ${kind} mode oscillates in the band`);
    return `With ${ohms(v.ohm, 4)} the ${edgeWord(sweep.edge)} edge ${v.passes ? "PASSES" : "FAILS"}${ofHeld(sweep.edge)}: ${at(v.differential, "differential")}; ${at(v.common, "common")}; ` +
      `${v.growing === 0 ? "nothing grows" : "something grows"}.${swept(sweep)}`;
  }

  const rootsOf = (value, kind) => value.roots.filter((r) => r[2] === (kind === "differential" ? 1 : 0)).map(([x, y]) => ({x, y, ohm: value.ohm}));
  /// What was measured on the edge, and what is computed at its point as fitted.
  const measuredOn = (edge) => (check.measured || []).filter((m) => m.edge === edge);
  const mark = (m) => ({x: m.natural_frequency_hz, y: m.damping_ratio});
  function measuredDatasets(edge) {
    const rings = measuredOn(edge), near = rings.filter((m) => m.nearest);
    const out = [];
    if (rings.length > 0) out.push(line("measured", rings.map((m) => ({...mark(m), told: `measured at ${quoted(m.at)}`})), {showLine: false, borderColor: ink, backgroundColor: ink,
      pointStyle: "crossRot", pointRadius: 9, pointBorderWidth: 3, order: -2}));
    if (near.length > 0) out.push(line("computed at the measured point, as fitted", near.map((m) => ({...mark(m.nearest), told: `computed at ${quoted(m.at)}, as fitted`})), {showLine: false,
      borderColor: ink, backgroundColor: "#ffffff", pointStyle: "circle", pointRadius: 6, pointBorderWidth: 2, order: -1}));
    return out;
  }
  const measuredWords = (edge) => measuredOn(edge).map((m) => ` Measured at ${quoted(m.at)}, the cross: ${eng(m.ringing_frequency_hz, "Hz")}, damping ratio ${plain(m.damping_ratio)}, ${pace(m)}` +
    (m.nearest ? `; computed there, the hollow mark: ${eng(m.nearest.ringing_frequency_hz, "Hz")}, ${plain(m.nearest.damping_ratio)}, ${pace(m.nearest)}.` : ".")).join("");
  /// Large marks for one value, small ones for all, lines for what is asked.
  function rootsDatasets(sweep, v) {
    const band = require.band_hz, all = (kind) => sweep.values.flatMap((value) => rootsOf(value, kind));
    const out = ["differential", "common"].flatMap((kind) => [
      {...byKind(kind, rootsOf(v, kind)), label: `${kinds[kind].word} at this value`, showLine: false, pointRadius: 8, borderColor: ink, borderWidth: 1.5, order: 0}])
      .concat(["differential", "common"].map((kind) => ({...byKind(kind, all(kind)), label: `${kinds[kind].word} at every value`, showLine: false, pointRadius: 1.8, order: 1})))
      .filter((d) => d.data.length > 0);
    for (const kind of ["differential", "common"])
      if (kinds[kind].asked !== null && (kind === "common" || check.positions > 1)) out.push({...askedLine(kind, band[0], band[1]), order: 2});
    return out;
  }

  function drawRoots() {
    const slider = document.getElementById("roots-ohm"), output = document.getElementById("roots-value");
    const verdict = document.getElementById("roots-verdict"), label = slider.labels[0];
    // The edge of the worst mode first, at the value that is fitted.
    const worst = check.worst.differential.point || check.worst.common.point;
    const edgeOf = (name) => (check.points.find((p) => p.name === name) || {}).edge;
    let sweep = data.sweeps.find((s) => s.edge === edgeOf(worst)) || data.sweeps[0], index = 0;
    const band = require.band_hz;
    const chart = plot("roots-figure", [], {x: logAxis("natural frequency", "Hz", {min: band[0], max: band[1]}), y: axis("damping ratio", {suggestedMin: 0}),
      tooltip: (item) => (item.raw.told !== undefined ? `${item.raw.told}: ${eng(item.raw.x, "Hz")}, ${plain(item.raw.y)}` : item.raw.ohm === undefined ? item.dataset.label : `${ohms(item.raw.ohm)}: ${eng(item.raw.x, "Hz")}, damping ratio ${plain(item.raw.y)}, ` +
        `${pace({damping_ratio: item.raw.y, natural_frequency_hz: item.raw.x})}`)});
    const numbers = describe("roots-figure", "", "", () => {
      const v = sweep.values[index];
      return table(`Roots at ${ohms(v.ohm, 4)}, ${quoted(sweep.roots_at)}`, ["Kind", "#Natural frequency", "#Damping ratio", `#${paceHeading}`],
        v.roots.map((r) => [r[2] === 1 ? "differential" : "common", eng(r[0], "Hz", 5), plain(r[1], 4), shortPace({natural_frequency_hz: r[0], damping_ratio: r[1]})]));
    });
    const move = () => {
      const v = sweep.values[index], s = sizing(sweep.edge);
      chart.data.datasets = rootsDatasets(sweep, v).concat(measuredDatasets(sweep.edge));
      chart.update();
      const remark = v.ohm === s.fitted_ohm ? " (fitted)" : v.ohm === s.preferred_ohm ? " (preferred)" :
        s.acceptable_ohm.some((w) => w.some((end) => Math.abs(end - v.ohm) < 1e-6 * (1 + v.ohm))) ? " (end of a window)" : "";
      output.textContent = ohms(v.ohm, 4) + remark;
      slider.setAttribute("aria-valuetext", `${ohms(v.ohm, 4)}${remark}, ${v.passes ? "passes" : "fails"}`);
      verdict.textContent = rootsWords(sweep, v);
      const figure = document.getElementById("roots-figure");
      figure.querySelector("figcaption").textContent = `Every mode at ${quoted(sweep.roots_at)}, the edge's least damped point: small marks for all ` +
        `${sweep.values.length} resistances from ${ohms(sweep.values[0].ohm)} to ${ohms(sweep.values[sweep.values.length - 1].ohm)}, large ones for the value chosen. ` +
        "The other edge's resistor stays as it is; the verdict is of every point of this edge." + measuredWords(sweep.edge);
      figure.querySelector("canvas").setAttribute("aria-label", `Plot of damping ratio against natural frequency of the modes at ${quoted(sweep.roots_at)} as the gate ` +
        `resistor changes. ${rootsWords(sweep, v)}${measuredWords(sweep.edge)}`);
      numbers.again();
    };
    const choose = (edge) => {
      sweep = data.sweeps.find((s) => s.edge === edge);
      const fitted = sizing(edge).fitted_ohm;
      index = Math.max(0, sweep.values.findIndex((v) => v.ohm === fitted));
      label.textContent = `Gate resistor for ${edgeWord(edge)}`;
      slider.max = String(sweep.values.length - 1);
      slider.value = String(index);
      move();
    };
    slider.addEventListener("input", () => {
      index = Number(slider.value);
      move();
    });
    choices(document.getElementById("roots-edge"), "roots-edge", data.sweeps.map((s) => [s.edge, edgeWord(s.edge)]), sweep.edge, choose);
    choose(sweep.edge);
  }

  // ---- the shape of a mode ----

  /// Behind the tip, as far out as no other label stands; with a line to it where that is far.
  function phasorLabel(taken, words, {x, y, angle}) {
    const width = 9 * words.length, height = 18, side = Math.cos(angle);
    const anchor = side < -0.3 ? "end" : side > 0.3 ? "start" : "middle", shift = anchor === "end" ? -width : anchor === "start" ? 0 : -width / 2;
    for (let out = 12; ; out += 6) {
      const at = {x: x + out * side, y: y + out * Math.sin(angle)}, left = at.x + shift, top = at.y - height / 2;
      if (taken.some((t) => Math.abs(t.left + t.width / 2 - left - width / 2) < (t.width + width) / 2 && Math.abs(t.top - top) < height)) continue;
      taken.push({left, top, width});
      const text = svg("text", {x: at.x, y: at.y + 5, "text-anchor": anchor}, words);
      return out === 12 ? [text] : [svg("path", {d: `M${x} ${y}L${at.x} ${at.y}`, stroke: rule, fill: "none"}), text];
    }
  }

  function drawShape(shape, k) {
    const id = `shape-${k}`, size = 170, drawing = svg("svg", {viewBox: "-260 -200 520 400", role: "img", id: `${id}-plot`});
    const color = kinds[shape.kind].color;
    for (const r of [0.5, 1]) drawing.append(svg("circle", {cx: 0, cy: 0, r: r * size, fill: "none", stroke: rule}));
    drawing.append(svg("path", {d: `M${-size} 0H${size}M0 ${-size}V${size}`, stroke: rule, fill: "none"}));
    const groups = [];
    for (const p of shape.positions) {
      const same = groups.find((g) => Math.hypot(g.real - p.real, g.imag - p.imag) < 0.02);
      if (same) same.numbers.push(p.position);
      else groups.push({real: p.real, imag: p.imag, numbers: [p.position]});
    }
    const most = 16, taken = [];
    groups.sort((a, b) => Math.hypot(b.real, b.imag) - Math.hypot(a.real, a.imag));
    groups.forEach((g, n) => {
      const x = g.real * size, y = -g.imag * size, length = Math.hypot(x, y), angle = Math.atan2(y, x);
      const head = Math.min(12, length / 2);
      const back = (turn) => `${x - head * Math.cos(angle + turn)} ${y - head * Math.sin(angle + turn)}`;
      drawing.append(svg("path", {d: `M0 0L${x} ${y}M${back(0.4)}L${x} ${y}L${back(-0.4)}`, stroke: color, "stroke-width": 2.5, fill: "none"}));
      if (n < most) drawing.append(...phasorLabel(taken, spans(g.numbers), {x, y, angle}));
    });
    document.querySelector(`#${id} .plot`).append(drawing);
    const moving = groups.slice(0, 6).map((g) => `position ${spans(g.numbers)}: ${plain(Math.hypot(g.real, g.imag), 2)} at ${plain(Math.atan2(g.imag, g.real) * 180 / Math.PI, 3)} degrees`).join("; ");
    const words = `${moving}${groups.length > 6 ? "; and more" : ""}.`;
    const many = shape.one_of_many ? ` ${shape.multiplicity} equal modes: any swing whose sum is zero is one of them; the one drawn has position 1 against the others.` : "";
    describe(id, `Worst ${shape.kind} mode, ${eng(shape.natural_frequency_hz, "Hz")} at ${quoted(shape.point)}: amplitude and phase of each position's gate-source voltage, ` +
      `the largest being 1; numbers are positions. The shared parts hold ${percent(shape.shared_energy, 2)} of the energy.${many}`,
      `Phasors of the worst ${shape.kind} mode. ${words}`,
      () => table(`Shape of the worst ${shape.kind} mode`, ["Position", "#Amplitude", "#Phase", "#Share of energy"], shape.positions.map((p) => [p.position,
        plain(Math.hypot(p.real, p.imag)), `${plain(Math.atan2(p.imag, p.real) * 180 / Math.PI)} degrees`, percent(p.energy_share, 3)])));
  }

  // ---- beads ----

  function drawBead(bead, k) {
    const id = `bead-${k}`;
    const curve = (f, y) => f.map((x, n) => ({x, y: y[n]}));
    const look = {r: {borderColor: kinds.differential.color, backgroundColor: kinds.differential.color}, x: {borderColor: kinds.common.color, backgroundColor: kinds.common.color}};
    const fitted = bead.measured.frequency_hz.length > 0;
    const datasets = [bare(fitted ? "R of the fit" : "R", curve(bead.frequency_hz, bead.resistance_ohm), kinds.differential.color, []),
      bare(fitted ? "X of the fit" : "X", curve(bead.frequency_hz, bead.reactance_ohm), kinds.common.color, [7, 4])];
    if (fitted) {
      datasets.push(line("R measured", curve(bead.measured.frequency_hz, bead.measured.resistance_ohm), {...look.r, showLine: false, pointRadius: 3, pointStyle: "circle"}));
      datasets.push(line("X measured", curve(bead.measured.frequency_hz, bead.measured.reactance_ohm), {...look.x, showLine: false, pointRadius: 4, pointStyle: "triangle"}));
    }
    plot(id, datasets, {x: logAxis("frequency", "Hz", {min: 1e5, max: 1e9}), y: axis("ohm"),
      tooltip: (item) => `${item.dataset.label}: ${ohms(item.parsed.y)} at ${eng(item.parsed.x, "Hz", 3)}`});
    const near = (hz) => bead.frequency_hz.reduce((a, f, n) => (Math.abs(Math.log(f / hz)) < Math.abs(Math.log(bead.frequency_hz[a] / hz)) ? n : a), 0);
    const words = [10e6, 100e6].map((hz) => `${ohms(bead.resistance_ohm[near(hz)])} + j ${ohms(bead.reactance_ohm[near(hz)])} at ${eng(hz, "Hz")}`).join(", ");
    const name = bead.name === "" ? "given by its elements" : partName(bead.name);
    describe(id, `${bead.key} (${name}), position ${bead.positions}: ${words}. ${bead.sections.length} section${bead.sections.length === 1 ? "" : "s"}, ` +
      `dc resistance ${ohms(bead.dc_resistance_ohm)}${fitted ? `; fitted to ${bead.measured.frequency_hz.length} measured points, drawn as marks` : ""}.` +
      (bead.saturates ? " Without bias; its impedance falls with the gate current." : ""),
      `Plot of resistance and reactance of the bead against frequency: ${words}.`,
      () => {
        const rows = bead.frequency_hz.map((f, n) => [eng(f, "Hz", 3), ohms(bead.resistance_ohm[n], 4), ohms(bead.reactance_ohm[n], 4)]).filter((_, n) => n % 4 === 0);
        const out = [table("Impedance of the bead", ["Frequency", "#R", "#X"], rows)];
        if (fitted) out.push(table("Measured points", ["Frequency", "#R", "#X"], bead.measured.frequency_hz.map((f, n) => [eng(f, "Hz"), ohms(bead.measured.resistance_ohm[n], 4),
          ohms(bead.measured.reactance_ohm[n], 4)])));
        return out;
      });
  }

  // ---- the ring ----

  function drawRing() {
    const ring = data.ring;
    const colors = ["#174f86", "#a04b00", "#1a6b3c", "#7a3b86", "#4b535b", "#7d6200"], dashes = [[], [7, 4], [2, 3], [10, 3, 2, 3], [4, 2], [12, 5]];
    const datasets = ring.curves.map((c, k) => bare(`position ${c.positions}${k === 0 ? " (disturbed)" : ""}`, ring.time_s.map((t, n) => ({x: t * 1e9, y: c.voltage_v[n]})),
      colors[k % 6], dashes[k % 6]));
    const end = ring.time_s[ring.time_s.length - 1];
    plot("ring-figure", datasets, {x: axis("time (ns)", {min: 0, max: end * 1e9, ticks: {includeBounds: false}}), y: axis("gate-source voltage on the chip (V)"),
      tooltip: (item) => `${item.dataset.label}: ${plain(item.parsed.y)} V at ${plain(item.parsed.x)} ns`});
    const late = Math.max(...ring.curves.map((c) => Math.max(...c.voltage_v.slice(-Math.ceil(c.voltage_v.length / 8)).map(Math.abs))));
    const words = `In the last eighth of ${eng(end, "s", 3)} it still swings by ${plain(late, 2)} V.`;
    describe("ring-figure", `A charge that would lift the gate of position ${ring.disturbed} alone by 1 V is put on it at ${quoted(ring.point)}, held still there; ` +
      `the sum of ${ring.modes} modes. ${words} Small-signal: a growing ring has no end in this plot, a real one has.`,
      `Plot of gate-source voltages against time after a disturbance. ${words}`,
      () => table("The ring", ["Time", ...ring.curves.map((c) => `#Position ${c.positions}`)],
        ring.time_s.map((t, n) => [eng(t, "s", 4), ...ring.curves.map((c) => eng(c.voltage_v[n], "V", 3))]).filter((_, n) => n % 8 === 0)));
  }

  if (check.points.length > 0) drawPath();
  data.sweeps.forEach(drawResistance);
  if (data.sweeps.length > 0) drawRoots();
  ringquellPlane.draw();
  data.shapes.forEach(drawShape);
  data.beads.forEach(drawBead);
  if (data.ring.not_shown === "") drawRing();
})();
