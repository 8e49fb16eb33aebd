// Damping over drain-source voltage and current: a map of cells with the switching path on it.
"use strict";
const ringquellPlane = (() => {
  const {data, eng, plain, pace, shortPace, edgeWord, el, table} = ringquellPage;
  const {check, ink, kinds, axis, logAxis, line, plot, describe, least, stageOf, choices} = ringquellPlots;

  const shown = data.planes.filter((p) => p.rows.length > 0);
  // What is chosen.
  let plane = shown[0], kind = check.positions > 1 ? "differential" : "common";

  const asked = () => kinds[kind].asked || 0;
  const cells = () => plane.rows.flatMap((row) => row.vds_v.map((x, k) => ({x, y: row.current_a, v: row[kind][k],
    mode: {damping_ratio: row[kind][k], natural_frequency_hz: row[`${kind}_hz`][k]}})));
  /// The points of the walk on this plane; its line is broken between stages.
  function path() {
    const out = [];
    let before = "";
    for (const p of check.points) {
      if (p.edge !== plane.edge || p.junction_temperature_degc !== plane.junction_temperature_degc) continue;
      const stage = stageOf(p.name);
      if (before !== "" && stage !== before) out.push({x: p.vds_v, y: NaN});
      before = stage;
      out.push({x: p.vds_v, y: p.current_a, name: p.name, mode: least(p.modes, kind)});
    }
    return out;
  }
  const misses = (p) => p.mode !== null && p.mode !== undefined && p.mode.damping_ratio < asked();
  /// From the middle of a cell to its edge.
  const ratio = (row) => (row.vds_v.length > 1 ? Math.sqrt(row.vds_v[1] / row.vds_v[0]) : 1.1);

  // ---- cells ----

  /// Does the path's line run through the middle of a cell?
  const struck = (walked, left, right, current, half) => walked.some((p, n) => {
    const q = walked[n + 1] || p;
    if (Number.isNaN(p.y) || Number.isNaN(q.y)) return false;
    return Math.max(p.x, q.x) >= left && Math.min(p.x, q.x) <= right && Math.max(p.y, q.y) >= current - 0.6 * half && Math.min(p.y, q.y) <= current + 0.6 * half;
  });
  /// With their edges; no number where the path runs.
  function drawn() {
    const half = plane.rows.length > 1 ? (plane.rows[1].current_a - plane.rows[0].current_a) / 2 : plane.rows[0].current_a / 4, walked = path();
    return plane.rows.flatMap((row) => row.vds_v.map((v, k) => {
      const x = [v / ratio(row), v * ratio(row)];
      return {x, y: [row.current_a - half, row.current_a + half], v: row[kind][k], free: !struck(walked, ...x, row.current_a, half)};
    }));
  }

  // ---- scales, path and words ----

  function emptyPlot() {
    const rows = data.planes.flatMap((p) => p.rows), currents = rows.map((r) => r.current_a);
    const lowest = Math.min(...rows.map((r) => r.vds_v[0] / ratio(r))), highest = Math.max(...rows.map((r) => r.vds_v[r.vds_v.length - 1] * ratio(r)));
    return plot("plane-figure", [], {x: logAxis("drain-source voltage", "V", {min: lowest, max: highest}),
      y: axis("current of the whole switch (A)", {min: 0, max: Math.max(...currents) + Math.min(...currents) / 2, ticks: {includeBounds: false}}), plugins: [ringquellMap.cellsBehind(drawn, asked)],
      tooltip: (item) => (item.raw.name !== undefined ? `${item.raw.name}: ${item.raw.mode ? `${plain(item.raw.mode.damping_ratio)}, ${pace(item.raw.mode)}` : "-"}` :
        `${eng(item.raw.x, "V", 3)}, ${eng(item.raw.y, "A", 3)}: ${item.raw.v === null ? "-" : `${plain(item.raw.v)}, ${pace(item.raw.mode)}`}`)});
  }
  function datasets() {
    const points = path(), named = points.filter((p) => p.name !== undefined);
    return [
      line("cells", cells(), {showLine: false, pointRadius: 0, pointHitRadius: 10, order: 2}),
      line("switching path, less than asked there", named.filter(misses), {showLine: false, borderColor: "#ffffff",
        backgroundColor: ink, pointRadius: 6, pointBorderWidth: 1.5, pointStyle: "triangle", order: 0}),
      line("switching path, as asked there", named.filter((p) => !misses(p)), {showLine: false, borderColor: ink, backgroundColor: "#ffffff",
        pointRadius: 5, pointBorderWidth: 1.5, pointStyle: "circle", order: 0}),
      line("path line", points, {borderColor: ink, borderWidth: 1.5, order: 1}),
    ].filter((d) => d.data.length > 0);
  }
  function words() {
    const values = cells().filter((c) => c.v !== null), missing = values.filter((c) => c.v < asked()).length;
    const worst = values.reduce((a, c) => (a === null || c.v < a.v ? c : a), null);
    return `${edgeWord(plane.edge)}, ${plain(plane.junction_temperature_degc)} degC: ` + (worst === null ? `no ${kinds[kind].word} in the band anywhere.` :
      `the least damping of ${kinds[kind].word} is ${plain(worst.v)} (${pace(worst.mode)}) at ${eng(worst.x, "V", 3)} and ${eng(worst.y, "A", 3)}; ${missing} of ` +
      `${cells().length} cells have less than asked.`);
  }
  const numbersTable = () => table(`Least damping of ${kinds[kind].word}, ${edgeWord(plane.edge)}; below each the drain-source voltage, and the time in which it falls to 1/e or grows to twice (x2)`,
    ["Current", ...plane.rows[0].vds_v.map((_, k) => `#${k + 1}`)],
    plane.rows.map((row) => [eng(row.current_a, "A", 3), ...row.vds_v.map((v, k) => `${plain(row[kind][k], 3)}\n${eng(v, "V", 3)}\n` +
      shortPace({damping_ratio: row[kind][k], natural_frequency_hz: row[`${kind}_hz`][k]}))]), "dense");

  function draw() {
    const figure = document.getElementById("plane-figure");
    if (shown.length === 0) {
      figure.replaceChildren(el("p", {}, `Not shown: ${data.planes.length > 0 ? data.planes[0].not_shown : "there is no point"}.`));
      return;
    }
    const worst = check.worst.differential.point || check.worst.common.point;
    const at = check.points.find((p) => p.name === worst);
    plane = shown.find((p) => at && p.edge === at.edge) || plane;
    document.getElementById("plane-classes").replaceChildren(...ringquellMap.swatches());
    const chart = emptyPlot(), numbers = describe("plane-figure", "", "", numbersTable);
    const move = () => {
      chart.data.datasets = datasets();
      chart.update();
      figure.querySelector("figcaption").textContent = words() + " From the on-state voltage of each current to the bus voltage, with the complementary device blocking; the " +
        "marks are the path that is judged.";
      figure.querySelector("canvas").setAttribute("aria-label", `Map of the least damping ratio over drain-source voltage and current. ${words()}`);
      numbers.again();
    };
    choices(document.getElementById("plane-edge"), "plane-edge", shown.map((p) => [p.edge, edgeWord(p.edge)]), plane.edge, (edge) => {
      plane = shown.find((p) => p.edge === edge);
      move();
    });
    choices(document.getElementById("plane-kind"), "plane-kind", check.positions > 1 ? [["differential", "differential"], ["common", "common"]] : [["common", "common"]], kind, (k) => {
      kind = k;
      move();
    });
    move();
  }
  return {draw};
})();
