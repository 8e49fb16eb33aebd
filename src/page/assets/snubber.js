// Damping over the snubber's capacitance and resistance.
"use strict";
(() => {
  const {data, eng, plain, ohms, pace, shortPace, table} = ringquellPage;
  const {check, ink, kinds, logAxis, line, plot, describe} = ringquellPlots;
  const map = data.snubber_map;
  if (map.not_shown !== "") return;
  const kind = check.positions > 1 ? "differential" : "common", asked = kinds[kind].asked || 0;
  const resistances = map.resistance_ohm, capacitances = map.rows.map((row) => row.capacitance_f);
  const cells = map.rows.flatMap((row, i) => resistances.map((x, k) => ({i, k, x, y: row.capacitance_f, v: row[kind][k],
    mode: row[kind][k] === null ? null : {damping_ratio: row[kind][k], natural_frequency_hz: row[`${kind}_hz`][k]}})));

  /// From a value to the middles between it and its neighbours.
  function edges(values, k) {
    const step = (a, b) => Math.sqrt(values[a] * values[b]);
    const first = k > 0 ? step(k - 1, k) : values[0] ** 2 / step(0, 1), last = values.length - 1;
    return [first, k < last ? step(k, k + 1) : values[last] ** 2 / step(last - 1, last)];
  }
  const boxes = cells.map((c) => ({x: edges(resistances, c.k), y: edges(capacitances, c.i), v: c.v, free: true}));

  /// Where the damping is what is asked, between the middles of four cells each.
  function contour() {
    const out = [], at = (i, k) => map.rows[i][kind][k] - asked, between = (a, b, share) => Math.exp(Math.log(a) + share * (Math.log(b) - Math.log(a)));
    const known = (i, k) => map.rows[i][kind][k] !== null;
    for (let i = 0; i + 1 < capacitances.length; i += 1)
      for (let k = 0; k + 1 < resistances.length; k += 1) {
        const corners = [[i, k], [i, k + 1], [i + 1, k + 1], [i + 1, k]];
        if (!corners.every(([a, b]) => known(a, b))) continue;
        const crossings = corners.flatMap(([a, b], n) => {
          const [c, d] = corners[(n + 1) % 4], from = at(a, b), to = at(c, d);
          if (from < 0 === to < 0) return [];
          const share = from / (from - to);
          return [{x: between(resistances[b], resistances[d], share), y: between(capacitances[a], capacitances[c], share)}];
        });
        for (let n = 0; n + 1 < crossings.length; n += 2) out.push(crossings[n], crossings[n + 1], {x: crossings[n + 1].x, y: NaN});
      }
    return out;
  }

  const fitted = map.fitted, inside = fitted && fitted.resistance_ohm >= edges(resistances, 0)[0];
  const told = (x, y) => `${eng(y, "F", 3)} and ${ohms(x)}`;
  const datasets = [line("cells", cells, {showLine: false, pointRadius: 0, pointHitRadius: 10, order: 3})];
  const asFarAsAsked = contour();
  if (asFarAsAsked.length > 0) datasets.push(line(`damping as asked: ${plain(asked)}`, asFarAsAsked, {borderColor: ink, borderWidth: 2.5, order: 1}));
  if (inside) datasets.push(line(`fitted${map.differ ? " at position 1" : ""}: ${told(fitted.resistance_ohm, fitted.capacitance_f)}`,
    [{x: fitted.resistance_ohm, y: fitted.capacitance_f}], {showLine: false, borderColor: ink, backgroundColor: "#ffffff", pointRadius: 7, pointBorderWidth: 2.5, pointStyle: "circle", order: 0}));
  document.getElementById("snubber-classes").replaceChildren(...ringquellMap.swatches());
  const ends = (values) => ({min: edges(values, 0)[0], max: edges(values, values.length - 1)[1]});
  plot("snubber-figure", datasets, {x: logAxis("resistance of the snubber", "ohm", ends(resistances)), y: logAxis("capacitance of the snubber", "F", ends(capacitances)),
    plugins: [ringquellMap.cellsBehind(() => boxes, () => asked)],
    tooltip: (item) => (item.raw.mode === undefined ? item.dataset.label : `${told(item.raw.x, item.raw.y)}: ${item.raw.mode === null ? "-" : `${plain(item.raw.v)}, ${pace(item.raw.mode)}`}`)});

  const best = cells.filter((c) => c.v !== null).reduce((a, c) => (a === null || c.v > a.v ? c : a), null);
  const meeting = cells.filter((c) => c.v !== null && c.v >= asked).length;
  const words = best === null ? `No ${kinds[kind].word} in the band anywhere.` :
    `${meeting} of ${cells.length} cells have what is asked, ${plain(asked)}; the most is ${plain(best.v)} (${pace(best.mode)}) with ${told(best.x, best.y)}.`;
  const present = fitted === null ? `No snubber is fitted${map.differ ? " at position 1" : ""}: this is what one at every position would do, with ${eng(map.inductance_h, "H", 3)} in series, an assumed value. ` :
    `Fitted${map.differ ? " at position 1 (the positions differ)" : ""}: ${told(fitted.resistance_ohm, fitted.capacitance_f)}${inside ? ", the round mark" : ""}. `;
  const looked = map.points === map.points_of_path ? `all ${map.points} different points of the path` :
    `${map.points === 1 ? "the one point that is" : `the ${map.points} points that are`} hardest as fitted and in the map's corners, of ${map.points_of_path} different ones of the path`;
  describe("snubber-figure", `${present}${words} A cell is the least damping of ${kinds[kind].word} at ${looked}, with the same capacitance and resistance at every position; ` +
    "all else stays, and what a larger capacitance costs in switching loss is not in it.",
  `Map of the least damping ratio over the snubber's resistance and capacitance. ${present}${words}`,
  () => table(`Least damping of ${kinds[kind].word}; below each the time in which it falls to 1/e or grows to twice (x2)`,
    ["Capacitance", ...resistances.map((x) => `#${ohms(x)}`)],
    map.rows.map((row, i) => [eng(row.capacitance_f, "F", 3), ...cells.filter((c) => c.i === i).map((c) => `${plain(c.v)}\n${shortPace(c.mode)}`)]), "dense"));
})();
