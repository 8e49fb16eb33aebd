// The tables of a review.
"use strict";
(() => {
  const {data, eng, plain, percent, ohms, pace, shortPace, paceHeading, partName, edgeWord, quoted, spans, el, table, scrolled, fold} = ringquellPage;

  function deviceRows() {
    const rows = [];
    for (const p of data.check.points)
      for (const d of p.devices)
        for (const die of ["mosfet", "jfet"]) {
          const v = d[die];
          if (!v) continue;
          rows.push([p.name, eng(p.vds_v, "V"), eng(p.current_a, "A"), `${plain(p.junction_temperature_degc)} degC`, d.positions,
            die === "jfet" ? "JFET" : { jfet: "JFET", hemt: "HEMT" }[d.kind] ?? "MOSFET", eng(v.transconductance_s, "S"), eng(v.output_conductance_s, "S"), eng(v.cgs_f, "F"),
            eng(v.cgd_f, "F"), eng(v.cds_f, "F"), v.region === "unknown" ? "-" : v.region,
            die === "mosfet" && d.gate_voltage_v !== undefined ? eng(d.gate_voltage_v, "V") : "-", p.judged ? "yes" : "no"]);
        }
    return rows;
  }
  function deviceTable() {
    return table("Device values used at each point", ["Point", "#vds", "#Current", "#Junction", "Positions", "Die", "#gm", "#gds", "#cgs", "#cgd",
      "#cds", "Region", "#Gate voltage", "Judged"], deviceRows());
  }
  function elementTable() {
    const network = data.check.network;
    const units = {ohm: "ohm", f: "F", s: "S", h: "H"};
    const values = (branch) => branch.values.map((v) => `${v.key} ${eng(v.value, units[v.unit] || "")}`).join(", ");
    const rows = [];
    for (const group of network.positions)
      for (const b of group.branches) rows.push([spans(group.positions), b.from, b.to, values(b)]);
    for (const b of network.shared) rows.push(["shared", b.from, b.to, values(b)]);
    return table(`Elements at ${quoted(network.point)}`, ["Positions", "From", "To", "Elements in series"], rows);
  }

  function chooseTables(place) {
    const c = data.choose;
    for (const edge of ["turn_on", "turn_off"]) {
      const rows = c.options.filter((o) => o.edge === edge).map((o) => ({
        chosen: o.rank === 1 && o.recommended,
        cells: [o.rank, partName(o.bead) + (o.fitted ? " (fitted now)" : ""), ohms(o.minimum_ohm), ohms(o.preferred_ohm), plain(o.damping_ratio), shortPace(o),
          o.margin === null ? "no end" : percent(o.margin, 2), eng(o.current_transfer_s, "s", 3), eng(o.voltage_transfer_s, "s", 3),
          eng(o.switching_energy_j, "J", 3), eng(o.resistor_power_w, "W", 3), eng(o.induced_gate_v, "V", 2),
          o.shoot_through ? "would turn the other switch on" : o.passes ? "passes" : "fails"]}));
      if (rows.length > 0)
        place.append(scrolled(`Beads and resistors for ${edgeWord(edge)}`, table(`For ${edgeWord(edge)}`, ["Rank", "Bead", "#Least resistor",
          "#Fit (E24)", "#Damping ratio", `#${paceHeading}`, "#Margin", "#Current transfer", "#Voltage transfer", "#Switching loss", "#Power in a resistor",
          "#Held gate", "Verdict"], rows)));
    }
    const beads = c.beads.filter((b) => b.sections !== undefined);
    if (beads.length > 0)
      place.append(scrolled("Values of the beads compared", table("The beads compared, beside what is fitted", ["Bead", "#DC resistance", "#Capacitance", "Sections in series (R beside L)", "#R at 100 MHz", "#X at 100 MHz"],
        beads.map((b) => [partName(b.name), ohms(b.dc_resistance_ohm), eng(b.capacitance_f, "F", 3), b.sections.map((s) => `${ohms(s.resistance_ohm)} beside ${eng(s.inductance_h, "H", 3)}`).join("; "),
          ohms(b.at_100_mhz.resistance_ohm), ohms(b.at_100_mhz.reactance_ohm)]))));
    place.append(el("p", {}, `Times, losses, power (at ${eng(c.switching_frequency_hz, "Hz")}) and the held gate's voltage are textbook ` +
      "estimates of one edge: good for comparing rows, not for a heat sink."));
  }
  const unitOfKey = (key) => (/resist|esr|^driver\.pull/.test(key) ? "ohm" : /capacitance$/.test(key) ? "F" : /coefficient/.test(key) ? "" : "H");
  function budgetTables(place) {
    const rows = data.budget.map((v) => {
      const unit = unitOfKey(v.key);
      const allowed = v.acceptable.map(([low, high], k) => {
        const [below, above] = v.bounded_by[k];
        if (below === "limit" && above === "limit") return "any in the range";
        if (below === "limit") return `up to ${eng(high, unit)}`;
        return above === "limit" ? `from ${eng(low, unit)}` : `${eng(low, unit)} to ${eng(high, unit)}`;
      });
      return [v.key, eng(v.now, unit), allowed.length > 0 ? allowed.join("; ") : "none", `${v.searched[0] === 0 ? "0" : eng(v.searched[0], unit)} to ${eng(v.searched[1], unit)}`,
        v.complete ? "yes" : "no, sampled"];
    });
    place.append(scrolled("Layout budget, table", table("What each path alone may be, the rest as it is", ["Path", "#Now", "Allowed", "Range searched",
      "Every bound found"], rows)));
    place.append(el("p", {}, "Each range is for that path alone at every position; two paths at their limits together may fail."));
  }
  const explainColumns = ["Element", "#Value there", "#Share of energy", "#Part of the damping ratio", "#Change for +10 %", "#Passes alone at"];
  const matters = (e) => Math.abs(e.energy_share) >= 5e-4 || Math.abs(e.power_share) >= 5e-4 || Math.abs(e.damping_per_10_percent) >= 5e-4;
  // What is below a hundredth of a per cent, or of a damping ratio below 0.0001, is nothing.
  const share = (x) => percent(Number(x.toFixed(4)), 3), part = (x, digits = 3) => plain(Number(x.toFixed(4)), digits), change = (x) => part(x, 2);
  const valueOf = (x, unit) => (unit === "" ? plain(x) : eng(x, unit));
  const explainCells = (e, unit) => [valueOf(e.value, unit), share(e.energy_share), part(-e.power_share), change(e.damping_per_10_percent),
    e.passes_at === null || e.passes_at === undefined ? "-" : valueOf(e.passes_at, unit)];
  /// From the least to the greatest; once where they are the same.
  function range(values, say) {
    const known = values.filter((v) => v !== null && v !== undefined);
    if (known.length === 0) return "-";
    const low = say(Math.min(...known)), high = say(Math.max(...known));
    return low === high ? low : `${low} to ${high}`;
  }
  /// Sums over positions (or segments of a rail), and below each what it is from the least to the greatest.
  function sumCells(e) {
    const of = (key, sign, say) => {
      const each = range(e.each.map((x) => sign * x[key]), say), sum = say(sign * e[key]);
      return each === sum ? sum : `${sum}\neach ${each}`;
    };
    return [range(e.each.map((x) => x.value), (v) => valueOf(v, e.unit)), of("energy_share", 1, share), of("power_share", -1, (v) => part(v)),
      of("damping_per_10_percent", 1, change), range(e.each.map((x) => x.passes_at), (v) => valueOf(v, e.unit))];
  }
  /// With each position by names; the JSON has them in rows.
  const named = (e) => ({...e, each: e.each.map(([number, value, energy_share, power_share, damping_per_10_percent, passes_at]) =>
    ({number, value, energy_share, power_share, damping_per_10_percent, passes_at}))});
  /// One row an element, which opens to its positions. On paper the sums alone.
  function foldedTable(m, caption) {
    const shown = m.by_element.map(named).filter((e) => matters(e) || e.each.some(matters)), single = (e) => e.each.length === 1 && e.each[0].number === null;
    const rows = shown.flatMap((e) => [[e.name, ...(single(e) ? explainCells(e.each[0], e.unit) : sumCells(e))],
      ...(single(e) ? [] : e.each.map((x) => [`${e.name.startsWith("buses.") ? "segment" : "position"} ${x.number}`, ...explainCells(x, e.unit)]))]);
    const made = table(caption, explainColumns, rows, "folded"), lines = [...made.querySelectorAll("tbody tr")];
    for (const e of shown) {
      const head = lines.shift();
      if (single(e)) continue;
      const members = lines.splice(0, e.each.length), name = head.cells[0];
      const button = el("button", {type: "button", "aria-expanded": "false"}, e.name);
      name.replaceChildren(button, ` (${e.each.length} ${e.name.startsWith("buses.") ? "segments" : "positions"})`);
      for (const line of members) {
        line.classList.add("member");
        line.hidden = true;
      }
      button.addEventListener("click", () => {
        const open = button.getAttribute("aria-expanded") === "false";
        button.setAttribute("aria-expanded", String(open));
        for (const line of members) line.hidden = !open;
      });
    }
    return [made, m.by_element.length - shown.length];
  }
  function explainTables(place) {
    for (const m of data.explain) {
      const caption = `Worst ${m.mode.kind} mode: damping ratio ${plain(m.mode.damping_ratio)} at ${eng(m.mode.natural_frequency_hz, "Hz")}, ${pace(m.mode)}, ${quoted(m.mode.point)}`;
      let made, left;
      if (m.by_element) {
        [made, left] = foldedTable(m, caption);
      } else {
        const rows = m.elements.filter(matters).map((e) => [e.name, ...explainCells(e, e.unit)]);
        made = table(caption, explainColumns, rows);
        left = m.elements_left_out + m.elements.length - rows.length;
      }
      place.append(scrolled(`Worst ${m.mode.kind} mode, element by element`, made));
      if (left > 0) place.append(el("p", {}, `${left} elements with less than 0.0005 in every column${m.by_element ? "" : ", or far down the list,"} are left out.`));
      if (m.by_element) place.append(el("p", {}, "What stands at several positions, or in several segments of a rail, is one row with the sum over them; it opens to each of them. On paper the sums stand alone."));
    }
    place.append(el("p", {}, "A negative part of the damping ratio feeds the mode. “Passes alone at” is the value of that number alone with which " +
      "the whole case passes; “-” where none was found, or where the case passes already."));
  }
  function spreadTables(place) {
    const s = data.spread;
    place.append(el("p", {}, `${s.samples} samples of the case's tolerances (seed ${s.seed}): ${percent(s.pass_share)} meet the whole requirement; ` +
      `with 95 % confidence at least ${percent(s.lower_bound_95)} of all such boards do. ` +
      `${s.kept} samples keep a damping ratio of ${plain(s.worst_damping_required)} with nothing growing (at least ${percent(s.kept_lower_bound_95)}).`));
    if (s.worst) place.append(el("p", {}, `Worst: sample ${s.worst.sample}, ${s.worst.kind} mode, damping ratio ${plain(s.worst.damping_ratio)} at ` +
      `${eng(s.worst.natural_frequency_hz, "Hz")}, ${pace(s.worst)}, ${quoted(s.worst.point)}.`));
    place.append(scrolled("Quantiles", table("Damping ratio of the least damped mode", ["Share of boards", "#At most", "95 % sure: at least", "95 % sure: at most"],
      Object.entries(s.damping_quantiles).map(([p, q]) => [percent(Number(p)), plain(q.damping_ratio, 4), q.at_least_95 === null ? "too few samples" :
        plain(q.at_least_95, 4), q.at_most_95 === null ? "too few samples" : plain(q.at_most_95, 4)]))));
    place.append(scrolled("What matters", table("Share of the damping's variance that one tolerance alone explains", ["Tolerance", "Varies by", "#Share", "#Standard error"],
      s.matters.slice(0, 10).map((m) => [m.key, m.vary, percent(m.share, 3), percent(m.error, 2)]))));
  }

  for (const [name, fill] of [["choose", chooseTables], ["budget", budgetTables], ["explain", explainTables], ["spread", spreadTables]]) {
    const place = document.getElementById(`${name}-tables`);
    if (place) fill(place);
  }
  const devices = document.getElementById("device-values");
  if (devices) fold(devices, deviceTable);
  const elements = document.getElementById("elements");
  if (elements && data.check.network) fold(elements, elementTable);

  // A drawing wider than the screen opens on the device.
  for (const box of document.querySelectorAll(".drawing")) {
    const drawing = box.querySelector("svg[data-device]");
    if (drawing) box.scrollLeft = (drawing.dataset.device / drawing.viewBox.baseVal.width) * drawing.getBoundingClientRect().width - box.clientWidth / 2;
  }
})();
