// The page's helpers and its tables. Everything is made from the one JSON in the page.
"use strict";
const ringquellPage = (() => {
  const data = JSON.parse(document.getElementById("ringquell-data").textContent);

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
  const edgeWord = (edge) => (edge === "turn_on" ? "turn-on" : "turn-off");
  const ohms = (x, digits = 3) => eng(x, "ohm", digits);
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
    return el("table", look === "" ? {} : {class: look}, el("caption", {}, caption), el("thead", {}, head), body);
  }
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

  // ---- what the tables hold ----

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
        cells: [o.rank, o.bead + (o.fitted ? " (fitted now)" : ""), ohms(o.minimum_ohm), ohms(o.preferred_ohm), plain(o.damping_ratio),
          o.margin === null ? "no end" : percent(o.margin, 2), eng(o.current_transfer_s, "s", 3), eng(o.voltage_transfer_s, "s", 3),
          eng(o.switching_energy_j, "J", 3), eng(o.resistor_power_w, "W", 3), eng(o.induced_gate_v, "V", 2),
          o.shoot_through ? "would turn the other switch on" : o.passes ? "passes" : "fails"]}));
      if (rows.length > 0)
        place.append(scrolled(`Beads and resistors for ${edgeWord(edge)}`, table(`For ${edgeWord(edge)}`, ["Rank", "Bead", "#Least resistor",
          "#Fit (E24)", "#Damping ratio", "#Margin", "#Current transfer", "#Voltage transfer", "#Switching loss", "#Power in a resistor",
          "#Held gate", "Verdict"], rows)));
    }
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
  function explainTables(place) {
    for (const m of data.explain) {
      const rows = m.elements.filter((e) => Math.abs(e.energy_share) >= 5e-4 || Math.abs(e.power_share) >= 5e-4 ||
        Math.abs(e.damping_per_10_percent) >= 5e-4).map((e) => [e.name, eng(e.value, e.unit), percent(e.energy_share, 3), plain(-e.power_share),
        plain(e.damping_per_10_percent, 2), e.passes_at === null || e.passes_at === undefined ? "-" : eng(e.passes_at, e.unit)]);
      place.append(scrolled(`Worst ${m.mode.kind} mode, element by element`, table(
        `Worst ${m.mode.kind} mode: damping ratio ${plain(m.mode.damping_ratio)} at ${eng(m.mode.natural_frequency_hz, "Hz")}, ${quoted(m.mode.point)}`,
        ["Element", "#Value there", "#Share of energy", "#Part of the damping ratio", "#Change for +10 %", "#Passes alone at"], rows)));
      const left = m.elements_left_out + m.elements.length - rows.length;
      if (left > 0) place.append(el("p", {}, `${left} elements with less than 0.0005 in every column, or far down the list, are left out.`));
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
      `${eng(s.worst.natural_frequency_hz, "Hz")}, ${quoted(s.worst.point)}.`));
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

  return {data, charts: {}, eng, plain, percent, ohms, edgeWord, quoted, spans, el, svg, table, fold, folded};
})();
