// What records say of a case: each with its fit and what that leaves, the modes beside a measured ring, impedances before and after.
"use strict";
(() => {
  const {data, eng, plain, percent, quoted, table} = ringquellPage;
  const {ink, soft, kinds, axis, logAxis, line, bare, askedLine, plot, describe} = ringquellPlots;
  const told = data.calibrate, blue = kinds.differential.color, orange = kinds.common.color;

  // ---- axes one above the other ----

  const gutter = 74;  // px, so that both plots of a pair begin at the same place
  /// A label at either end would lie on one of the other axis.
  const clear = (scale, at) => Math.min(at, 1 - at) * scale.height > 8;
  const upper = (title, more = {}) => axis(title, {axis: "y", position: "left", stack: "pair", stackWeight: 3, afterFit: (scale) => { scale.width = gutter; }, ...more,
    ticks: {...more.ticks, callback(x, n, all) { return clear(this, (x - this.min) / (this.max - this.min)) ? Chart.Ticks.formatters.numeric.apply(this, [x, n, all]) : null; }}});
  const lower = (title, more = {}) => upper(title, {stackWeight: 2, ...more});
  /// Ends that leave room around the values: no label stands on them.
  function ends(values, share = 0.12) {
    const finite = values.filter(Number.isFinite), low = Math.min(...finite), high = Math.max(...finite);
    const room = share * (high - low || Math.abs(high) || 1);
    return {min: low - room, max: high + room, ticks: {includeBounds: false, maxTicksLimit: 6}};
  }
  /// A time axis in the unit that fits it.
  function timeScale(seconds) {
    const largest = Math.max(...seconds.map(Math.abs)), [scale, unit] = [[1e9, "ns"], [1e6, "us"], [1e3, "ms"], [1, "s"]].find(([s]) => largest * s < 5000) || [1e9, "ns"];
    return {scale, unit};
  }

  // ---- bars of errors, and the steady part ----

  /// Behind the marks: of every point with `dx` or `dy` its bar to both sides.
  const errorBars = {id: "errorBars", beforeDatasetsDraw(chart) {
    const {ctx, chartArea: area} = chart;
    ctx.save();
    ctx.beginPath();
    ctx.rect(area.left, area.top, area.right - area.left, area.bottom - area.top);
    ctx.clip();
    chart.data.datasets.forEach((d, k) => {
      if (!chart.isDatasetVisible(k)) return;
      const {xScale, yScale} = chart.getDatasetMeta(k);
      ctx.strokeStyle = d.borderColor;
      ctx.lineWidth = 1.5;
      for (const p of d.data) {
        const [x, y] = [xScale.getPixelForValue(p.x), yScale.getPixelForValue(p.y)], cap = 4;
        const bar = (x0, y0, x1, y1) => {
          ctx.beginPath();
          ctx.moveTo(x0, y0);
          ctx.lineTo(x1, y1);
          for (const [a, b] of [[x0, y0], [x1, y1]]) {
            const across = x0 === x1;
            ctx.moveTo(across ? a - cap : a, across ? b : b - cap);
            ctx.lineTo(across ? a + cap : a, across ? b : b + cap);
          }
          ctx.stroke();
        };
        if (p.dx > 0) bar(xScale.getPixelForValue(Math.max(p.x - p.dx, p.x * 1e-3)), y, xScale.getPixelForValue(p.x + p.dx), y);
        if (p.dy > 0) bar(x, yScale.getPixelForValue(p.y - p.dy), x, yScale.getPixelForValue(p.y + p.dy));
      }
    });
    ctx.restore();
  }};
  /// From and to in the axis' unit: shaded between two lines.
  const shaded = (from, to) => ({id: "steady", beforeDatasetsDraw(chart) {
    const {ctx, chartArea: area, scales} = chart, [a, b] = [from, to].map((t) => scales.x.getPixelForValue(t));
    ctx.save();
    ctx.fillStyle = "#e3e6e9";
    ctx.fillRect(a, area.top, b - a, area.bottom - area.top);
    ctx.strokeStyle = soft;
    ctx.setLineDash([2, 3]);
    for (const x of [a, b]) {
      ctx.beginPath();
      ctx.moveTo(x, area.top);
      ctx.lineTo(x, area.bottom);
      ctx.stroke();
    }
    ctx.restore();
  }});

  const errorWords = (value, error, show) => (error > 0 ? `${show(value)} ± ${show(error)}` : show(value));
  const hertz = (x) => eng(x, "Hz", 4), ratio = (x) => plain(x, 3);
  /// At most so many rows, evenly taken.
  const most = 80;
  const every = (count) => Math.max(1, Math.ceil(count / most));

  // ---- a waveform ----

  function drawWave(r, k) {
    const {time_s: seconds, value, fit} = r.fit.shown, {scale, unit} = timeScale(seconds);
    const rest = value.map((v, n) => v - fit[n]), points = (y) => seconds.map((t, n) => ({x: t * scale, y: y[n]}));
    const look = value.length > 400 ? {pointRadius: 1} : {pointRadius: 2};
    const datasets = [
      line("record", points(value), {showLine: false, borderColor: ink, backgroundColor: "#ffffff", borderWidth: 1, yAxisID: "y", ...look, order: 1}),
      bare("fit", points(fit), blue, [], {borderWidth: 2, yAxisID: "y", order: 0}),
      bare("record less fit", points(rest), orange, [], {borderWidth: 1.2, yAxisID: "rest"})];
    plot(`wave-${k}`, datasets, {
      x: axis(`time (${unit})`, {min: seconds[0] * scale, max: seconds[seconds.length - 1] * scale, ticks: {includeBounds: false, maxRotation: 0}}),
      y: upper("record and fit", ends([...value, ...fit], 0.06)),
      scales: {rest: lower("less fit", ends(rest, 0.25))},
      tooltip: (item) => `${item.dataset.label}: ${plain(item.parsed.y)} at ${plain(item.parsed.x, 4)} ${unit}`});
    const rings = r.fit.rings.length, least = Math.max(...value.map(Math.abs));
    const words = `${errorWords(r.frequency_hz, r.frequency_error_hz, hertz)}, damping ratio ${errorWords(r.damping_ratio, r.damping_error, ratio)}; ` +
      `${plain(r.fit.noise_rms, 3)} rms is left over, ${percent(r.fit.noise_rms / least, 2)} of the greatest value`;
    describe(`wave-${k}`, `${quoted(r.name)} with its fit, ${rings === 1 ? "one ring" : `the sum of ${rings} rings`} and a base line, and below it what the fit leaves, on a scale of its own: ${words}. ` +
      `${seconds.length === r.fit.samples ? `All ${r.fit.samples} samples` : `${seconds.length} of ${r.fit.samples} samples`} are drawn, in the units of the record.`,
    `Plot of a record of ${eng(seconds[seconds.length - 1] - seconds[0], "s", 3)} with its fit and what is left over. ${words}.`,
    () => {
      const step = every(seconds.length);
      return table(`${quoted(r.name)}, record and fit${step > 1 ? `, every ${step}th point` : ""}`, ["Time", "#Record", "#Fit", "#Record less fit"],
        seconds.map((t, n) => [eng(t, "s", 4), plain(value[n], 4), plain(fit[n], 4), plain(rest[n], 3)]).filter((_, n) => n % step === 0));
    });
  }

  // ---- the same ring from later starts ----

  function drawStarts(r, k) {
    const starts = r.fit.starts, {scale, unit} = timeScale(starts.map((s) => s.from_s));
    const of = (value, error, by = 1) => starts.map((s) => ({x: s.from_s * scale, y: s[value] * by, dy: s[error] * by}));
    const f = of("frequency_hz", "frequency_error_hz", 1e-6), d = of("damping_ratio", "damping_error");
    const span = (points) => ends(points.flatMap((p) => [p.y - p.dy, p.y + p.dy]));
    const steady = r.fit.steady_s;
    plot(`starts-${k}`, [
      line("frequency", f, {borderColor: blue, backgroundColor: blue, pointStyle: "circle", pointRadius: 4, yAxisID: "y"}),
      line("damping ratio", d, {borderColor: orange, backgroundColor: orange, borderDash: [7, 4], pointStyle: "triangle", pointRadius: 5, yAxisID: "damping"})], {
      x: axis(`start of the window (${unit})`, {...ends(starts.map((s) => s.from_s * scale), 0.05)}),
      y: upper("frequency (MHz)", {...span(f), stackWeight: 1}), scales: {damping: lower("damping ratio", {...span(d), stackWeight: 1})},
      plugins: [...(steady ? [shaded(steady[0] * scale, steady[1] * scale)] : []), errorBars],
      tooltip: (item) => `${item.dataset.label}: ${plain(item.parsed.y, 5)} ± ${plain(item.raw.dy, 2)} from ${plain(item.parsed.x, 4)} ${unit}`});
    const words = steady ? `Frequency and damping stand still from ${eng(steady[0], "s", 3)} to ${eng(steady[1], "s", 3)}, the shaded part.` :
      "Over no part do frequency and damping stand still.";
    describe(`starts-${k}`, `Frequency and damping ratio of ${quoted(r.name)} fitted from later and later starts, bars of one standard error of the record. ${words}`,
      `Plot of frequency and damping ratio against the start of the window, ${starts.length} starts. ${words}`,
      () => table(`${quoted(r.name)} from later starts`, ["Start", "#Frequency", "#± Hz", "#Damping ratio", "#±", "Stands still"], starts.map((s) => [eng(s.from_s, "s", 4),
        eng(s.frequency_hz, "Hz", 5), eng(s.frequency_error_hz, "Hz", 2), plain(s.damping_ratio, 4), plain(s.damping_error, 2),
        steady && s.from_s >= steady[0] && s.from_s <= steady[1] ? "yes" : "no"])));
  }

  // ---- an impedance ----

  function drawImpedance(r, k) {
    const z = r.impedance, f = z.frequency_hz;
    const size = (s) => s.resistance_ohm.map((x, n) => Math.hypot(x, s.reactance_ohm[n])), angle = (s) => s.resistance_ohm.map((x, n) => Math.atan2(s.reactance_ohm[n], x) * 180 / Math.PI);
    const curve = (y) => f.map((x, n) => ({x, y: y[n]}));
    const sets = [
      ["measured", z.measured, {showLine: false, borderColor: ink, backgroundColor: ink, pointStyle: "crossRot", pointRadius: 5, pointBorderWidth: 2, order: -1}],
      ["as the case stands", z.before, {borderColor: orange, backgroundColor: orange, borderDash: [7, 4], borderWidth: 2}],
      ["with what is settled", z.after, {borderColor: blue, backgroundColor: blue, borderWidth: 2}]];
    const datasets = sets.flatMap(([label, s, look]) => [
      line(label, curve(size(s)).map((p) => (label === "measured" ? {...p, dy: r.error * p.y} : p)), {...look, yAxisID: "y"}),
      line(`phase ${label}`, curve(angle(s)), {...look, yAxisID: "phase", quiet: true})]);
    const all = sets.flatMap(([, s]) => size(s)), angles = sets.flatMap(([, s]) => angle(s));
    plot(`impedance-${k}`, datasets, {
      x: logAxis("frequency", "Hz", {min: f[0] / 1.1, max: f[f.length - 1] * 1.1}),
      y: {...logAxis("|Z| (ohm)", "", {min: Math.min(...all) / 1.5, max: Math.max(...all) * 1.5}), stack: "pair", stackWeight: 3, afterFit: (scale) => { scale.width = gutter; }},
      scales: {phase: lower("degrees", {...ends(angles), stackWeight: 2})}, plugins: [errorBars],
      tooltip: (item) => `${item.dataset.label}: ${item.dataset.yAxisID === "phase" ? `${plain(item.parsed.y)} degrees` : eng(item.parsed.y, "ohm", 3)} at ${eng(item.parsed.x, "Hz", 3)}`});
    const words = `missed by ${plain(r.off_before, 3)} errors (rms) as the case stands, by ${plain(r.off_after, 3)} with what is settled`;
    describe(`impedance-${k}`, `Impedance of ${quoted(r.name)}, above its magnitude, below its phase: crosses measured, with bars of one error (${percent(r.error, 2)} of the magnitude), broken lines as the ` +
      `case stands, unbroken ones with what is settled; ${words}. Lines join the ${f.length} points that are fitted.`,
    `Plot of magnitude and phase of an impedance from ${eng(f[0], "Hz", 3)} to ${eng(f[f.length - 1], "Hz", 3)}: ${words}.`,
    () => {
      const cells = (s) => [size(s), angle(s)], columns = [z.measured, z.before, z.after].flatMap(cells);
      return table(`Impedance of ${quoted(r.name)}`, ["Frequency", ...["measured", "as it stands", "settled"].flatMap((w) => [`#Magnitude ${w}`, `#Degrees ${w}`])],
        f.map((x, n) => [eng(x, "Hz", 4), ...columns.map((c, m) => (m % 2 === 0 ? eng(c[n], "ohm", 4) : plain(c[n], 3)))]));
    });
  }

  // ---- the modes beside a measured ring ----

  /// Within a few octaves a logarithmic axis would have two labels.
  function nearAxis(min, max) {
    const [scale, unit] = [[1e9, "GHz"], [1e6, "MHz"], [1e3, "kHz"], [1, "Hz"]].find(([s]) => min >= s) || [1, "Hz"];
    return axis(`frequency (${unit})`, {min, max, ticks: {includeBounds: false, maxRotation: 0, maxTicksLimit: 8, callback: (x) => plain(x / scale, 4)}});
  }

  function drawModes(r, k) {
    const at = (m, more) => ({x: m.ringing_frequency_hz, y: m.damping_ratio, ...more});
    const before = r.modes.length > 0 ? r.modes : r.nearest ? [r.nearest] : [];
    const measured = {x: r.frequency_hz, y: r.damping_ratio, dx: r.frequency_counted_hz, dy: r.damping_counted, told: "measured"};
    // What is damped far more than what was measured would press all else together.
    const known = [r.damping_ratio + r.damping_counted, ...[r.mode, r.mode_after].filter(Boolean).map((m) => m.damping_ratio)];
    const top = before.length > 0 && r.modes.length > 0 ? Math.max(4 * Math.max(...known), 0.1) : Infinity;
    const shown = before.filter((m) => m.damping_ratio <= top), hidden = before.length - shown.length;
    const mark = {differential: "circle", common: "triangle"};
    const datasets = [line("measured", [measured], {showLine: false, borderColor: ink, backgroundColor: ink, pointStyle: "crossRot", pointRadius: 12, pointBorderWidth: 2.5, order: -2})];
    for (const kind of ["differential", "common"]) {
      const color = kinds[kind].color, of = shown.filter((m) => m.kind === kind);
      if (of.length > 0) datasets.push(line(`${kinds[kind].word}, as the case stands`, of.map((m) => at(m, {told: `${kind}, as the case stands`, view: m.view})), {showLine: false, borderColor: color,
        backgroundColor: "#ffffff", pointStyle: mark[kind], pointRadius: 6, pointBorderWidth: 2}));
      if (r.mode_after && r.mode_after.kind === kind) datasets.push(line(`${kinds[kind].word}, with what is settled`, [at(r.mode_after, {told: `${kind}, with what is settled`})], {showLine: false,
        borderColor: color, borderWidth: 1.5, backgroundColor: color, pointStyle: mark[kind], pointRadius: 5, order: -1}));
    }
    const all = datasets.flatMap((d) => d.data), f = all.flatMap((p) => [p.x - (p.dx || 0), p.x + (p.dx || 0)]), from = Math.min(...f) / 1.25, to = Math.max(...f) * 1.25;
    datasets.push({...askedLine("differential", from, to), order: 2});
    const asked = kinds.differential.asked;
    plot(`modes-${k}`, datasets, {x: to / from < 6 ? nearAxis(from, to) : logAxis("frequency", "Hz", {min: from, max: to}),
      y: axis("damping ratio", ends([...all.flatMap((p) => [p.y - (p.dy || 0), p.y + (p.dy || 0)]), 0, asked], 0.08)), plugins: [errorBars],
      tooltip: (item) => (item.raw.told ? `${item.raw.told}: ${eng(item.raw.x, "Hz")}, damping ratio ${plain(item.raw.y)}${item.raw.view === undefined ? "" : `, seen ${percent(item.raw.view, 2)}`}` : item.dataset.label)});
    const of = (m) => `${m.kind} mode, ${hertz(m.ringing_frequency_hz)}, damping ratio ${ratio(m.damping_ratio)}`;
    const words = `Measured, the cross: ${hertz(r.frequency_hz)}, damping ratio ${ratio(r.damping_ratio)}. ${r.nothing_rings_like_that ? "Nothing in this case rings like that. " : ""}` +
      (r.mode ? `The likeliest as the case stands, hollow: ${of(r.mode)}.` : r.nearest ? `The nearest in frequency, hollow: ${of(r.nearest)}.` : "") +
      (r.mode_after ? ` With what is settled, filled: ${of(r.mode_after)}.` : "");
    describe(`modes-${k}`, `The modes where ${quoted(r.name)} was taken. ${words} Its bars are one error as the fit counts it, ${hertz(r.frequency_counted_hz)} and ${ratio(r.damping_counted)}.` +
      (hidden > 0 ? ` ${hidden} ${hidden === 1 ? "mode" : "modes"} with more damping than ${plain(top, 2)} ${hidden === 1 ? "is" : "are"} in the table alone.` : ""),
    `Plot of damping ratio against frequency: the measured ring and the modes of the case. ${words}`,
    () => {
      const row = (what, m) => [what, m.kind || "-", eng(m.ringing_frequency_hz, "Hz", 5), plain(m.damping_ratio, 4), m.view === undefined ? "-" : percent(m.view, 2),
        m.frequency_off === undefined ? "-" : plain(m.frequency_off, 2), m.damping_off === undefined ? "-" : plain(m.damping_off, 2)];
      return table(`Modes where ${quoted(r.name)} was taken`, ["What", "Kind", "#Frequency", "#Damping ratio", "#How strongly seen", "#Frequency off, in errors", "#Damping off, in errors"],
        [row("measured", {ringing_frequency_hz: r.frequency_hz, damping_ratio: r.damping_ratio}), ...before.map((m) => row("as the case stands", m)),
          ...(r.mode_after ? [row("with what is settled", r.mode_after)] : [])]);
    });
  }

  told.records.forEach((r, k) => {
    if (r.impedance) {
      drawImpedance(r, k);
      return;
    }
    if (r.fit) {
      drawWave(r, k);
      if (r.fit.starts.length > 1) drawStarts(r, k);
    }
    drawModes(r, k);
  });
})();
