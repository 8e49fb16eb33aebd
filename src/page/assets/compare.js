// Two cases side by side: the damping of both along their paths, one plot for each edge.
"use strict";
(() => {
  const {data, eng, plain, pace, shortPace, paceHeading, edgeWord, quoted, table} = ringquellPage;
  const {kinds, axis, line, askedLine, plot, describe, least, stageOf, walkAxis, stageMarks} = ringquellPlots;
  const sides = [["A", data.a.check], ["B", data.b.check]];

  /// The names of both, in A's order; what B alone has stands behind what is before it there.
  function merged(first, second) {
    const out = [...first];
    let at = 0;
    for (const name of second) {
      const found = out.indexOf(name);
      if (found >= 0) at = found + 1;
      else out.splice(at++, 0, name);
    }
    return out;
  }
  const pointsOf = (check, edge) => check.points.filter((p) => p.edge === edge);

  /// Names along the axis with a gap between stages.
  function axisOf(names) {
    const at = new Map(), stages = [];
    let x = 0;
    for (const name of names) {
      const stage = stageOf(name);
      if (stages.length === 0 || stages[stages.length - 1].name !== stage) {
        if (stages.length > 0) x += 1;
        stages.push({name: stage, from: x, to: x});
      }
      stages[stages.length - 1].to = x;
      at.set(name, x);
      x += 1;
    }
    return {at, stages, end: x};
  }

  /// A is filled and drawn through, B hollow and dashed.
  function curve(letter, check, edge, kind, where) {
    const points = [];
    let before = null;
    for (const p of pointsOf(check, edge)) {
      const mode = least(p.modes, kind), x = where.at.get(p.name), stage = stageOf(p.name);
      if (before !== null && stage !== before) points.push({x: x - 1, y: NaN});
      before = stage;
      points.push({x, y: mode ? mode.damping_ratio : NaN, mode, name: p.name, judged: p.judged});
    }
    points.sort((a, b) => a.x - b.x);
    const {color, style} = kinds[kind];
    return line(`${letter}, ${kinds[kind].word}`, points, {borderColor: color, backgroundColor: letter === "A" ? color : "#ffffff", borderDash: letter === "A" ? [] : [6, 4],
      pointStyle: (context) => (context.raw && context.raw.judged === false ? "crossRot" : style), mark: style, pointRadius: letter === "A" ? 3 : 4, pointBorderWidth: 1.5,
      order: 0});
  }

  function words(edge) {
    return sides.map(([letter, check]) => {
      const worst = ["differential", "common"].flatMap((kind) => {
        const judged = pointsOf(check, edge).filter((p) => p.judged).map((p) => ({name: p.name, mode: least(p.modes, kind)})).filter((p) => p.mode);
        if (judged.length === 0) return [];
        const w = judged.reduce((a, p) => (p.mode.damping_ratio < a.mode.damping_ratio ? p : a));
        return [`${kind} ${plain(w.mode.damping_ratio)} (${pace(w.mode)}) at ${quoted(w.name)}`];
      });
      return `${letter}: ${worst.length === 0 ? "nothing judged oscillates in the band" : `least ${worst.join(", ")}`}.`;
    }).join(" ");
  }

  function draw(edge) {
    const id = `path-${edge}`, names = merged(...sides.map(([, check]) => pointsOf(check, edge).map((p) => p.name))), where = axisOf(names);
    const datasets = ["differential", "common"].flatMap((kind) => sides.map(([letter, check]) => curve(letter, check, edge, kind, where)))
      .filter((d) => d.data.some((p) => Number.isFinite(p.y)));
    const alike = JSON.stringify(data.a.check.requirement) === JSON.stringify(data.b.check.requirement);
    const several = Math.max(...sides.map(([, check]) => check.positions)) > 1;
    for (const kind of ["differential", "common"])
      if (kinds[kind].asked !== null && (kind === "common" || several)) datasets.push(askedLine(kind, -0.5, where.end - 0.5, alike ? "" : "A"));
    plot(id, datasets, {
      x: walkAxis(where.stages, where.end), y: axis("damping ratio"), plugins: [stageMarks(where.stages, where.end)],
      tooltip: (item) => (item.raw.mode ? `${item.dataset.label}, ${item.raw.name}: ${plain(item.raw.y)} at ${eng(item.raw.mode.natural_frequency_hz, "Hz")}, ${pace(item.raw.mode)}` :
        item.dataset.label)});
    const unjudged = sides.some(([, check]) => pointsOf(check, edge).some((p) => !p.judged));
    describe(id, `${edgeWord(edge)}: the least damped mode of each kind in the band, at every point of both paths. ${words(edge)} A has full marks and unbroken lines, B hollow ` +
      `marks and broken ones${unjudged ? "; crosses are shown but not judged" : ""}.${alike ? "" : " The lines of what is asked are A's."}`,
    `Plot of the damping ratio of A and B at ${names.length} points of ${edgeWord(edge)}. ${words(edge)}`, () => numbers(edge, names));
  }

  function numbers(edge, names) {
    const found = sides.map(([, check]) => new Map(pointsOf(check, edge).map((p) => [p.name, p])));
    const cells = (p, kind) => {
      const mode = p ? least(p.modes, kind) : null;
      return [mode ? plain(mode.damping_ratio) : "-", shortPace(mode)];
    };
    return table(`Damping along the path, ${edgeWord(edge)}`, ["Point", ...["differential", "common"].flatMap((kind) => sides.flatMap(([letter]) => [`#${letter}, ${kind}`, `#${paceHeading}`]))],
      names.map((name) => [name, ...["differential", "common"].flatMap((kind) => found.flatMap((side) => cells(side.get(name), kind)))]));
  }

  for (const edge of ["turn_on", "turn_off"]) if (document.getElementById(`path-${edge}`)) draw(edge);
})();
