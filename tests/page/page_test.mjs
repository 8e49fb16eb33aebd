// The page in a headless browser: what it draws is what its JSON says, the slider moves roots and verdict, names are
// text, nothing is requested, print is complete, and axe-core finds nothing to object to.
import assert from "node:assert/strict";
import {readFileSync, statSync} from "node:fs";
import {createRequire} from "node:module";
import {join} from "node:path";
import {after, before, test} from "node:test";
import {caseFile, cases, command, folder, launch, makePage, open, pdfText} from "./browser.mjs";
import {spawnSync} from "node:child_process";

const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
let browser;
const pages = {};
before(async () => {
  browser = await launch();
  pages.first = makePage(join(cases, "ropeway-first.yaml"), "first", {more: ["--beads", join(cases, "parts")]});
  pages.cured = makePage(join(cases, "ropeway-cured.yaml"), "cured");
  pages.cascode = makePage(join(cases, "ice-rink-cascode.yaml"), "cascode");
  pages.uneven = makePage(join(cases, "mine-hoist-bus.yaml"), "uneven", {changes: ["operation.path.steps=4"], more: ["--no-budget"]});
  pages.curves = makePage(join(cases, "ski-lift-curves.yaml"), "curves", {changes: ["operation.path.steps=4"], more: ["--no-budget"]});
  pages.spread = makePage(join(cases, "ropeway-spread.yaml"), "spread", {changes: ["operation.path.steps=4"], more: ["--no-budget", "--samples", "200"]});
});
after(() => browser.close());

/// Every folded table, open and filled.
async function unfold(page) {
  for (const details of await page.locator("details").all()) {
    await details.evaluate((x) => { x.open = true; });
    await details.locator("tbody tr").first().waitFor();
  }
}

/// The data of a chart's datasets, NaN as null.
const drawn = (page, id) => page.evaluate((name) => ringquellPage.charts[name].data.datasets.map((d) => ({label: d.label,
  points: d.data.map((p) => ({x: p.x, y: Number.isNaN(p.y) ? null : p.y}))})), id);
const data = (page) => page.evaluate(() => ringquellPage.data);
const withLabel = (datasets, label) => {
  const found = datasets.find((d) => d.label === label);
  assert.ok(found, `no ${label} among ${datasets.map((d) => d.label).join(", ")}`);
  return found.points;
};
const values = (points) => points.filter((p) => p.y !== null).map((p) => p.y);

test("every page is drawn without an error and asks for nothing", async () => {
  for (const [name, file] of Object.entries(pages)) {
    const {page, faults, milliseconds} = await open(browser, file);
    assert.deepEqual(faults, [], name);
    console.log(`${name}: ${Math.ceil(statSync(file).size / 1000)} kB, opened and drawn in ${Math.round(milliseconds)} ms`);
    await page.close();
  }
  assert.ok(statSync(pages.first).size < 600000);
});

test("the path's plot holds the least damping of each point and kind", async () => {
  for (const name of ["first", "uneven", "cascode", "curves"]) {
    const {page} = await open(browser, pages[name]);
    const d = await data(page), plot = await drawn(page, "path-figure");
    for (const kind of ["differential", "common"]) {
      const least = (point) => point.modes.filter((m) => m.kind === kind).map((m) => m.damping_ratio).sort((a, b) => a - b)[0];
      const expected = d.check.points.filter((p) => p.judged).map(least).filter((v) => v !== undefined);
      assert.deepEqual(values(withLabel(plot, `${kind} modes`)), expected, `${name} ${kind}`);
      assert.equal(Math.min(...expected), d.check.worst[kind].damping_ratio, `${name} ${kind}`);
    }
    await page.close();
  }
});

test("the resistance plots hold the sweep", async () => {
  const {page} = await open(browser, pages.first);
  const d = await data(page);
  assert.equal(d.sweeps.length, 2);
  for (const sweep of d.sweeps) {
    const plot = await drawn(page, `resistance-${sweep.edge}`);
    for (const kind of ["differential", "common"])
      assert.deepEqual(withLabel(plot, `${kind} modes`), sweep.values.map((v) => ({x: v.ohm, y: v[kind].damping_ratio})));
    assert.deepEqual(values(withLabel(plot, "asked of differential modes: 0.1")), [0.1, 0.1]);
  }
  await page.close();
});

test("the slider moves the roots and the verdict, from the keyboard too", async () => {
  const {page, faults} = await open(browser, pages.first);
  const d = await data(page), sweep = d.sweeps.find((s) => s.edge === "turn_off");
  const slider = page.locator("#roots-ohm"), verdict = page.locator("#roots-verdict");
  const at = sweep.values.findIndex((v) => v.ohm === 1.5);
  assert.equal(await slider.inputValue(), String(at));  // begins at what is fitted
  assert.match(await verdict.textContent(), /With 1\.5 ohm the turn-off edge FAILS: .*-0\.0785/);
  const rootsAt = async (kind) => withLabel(await drawn(page, "roots-figure"), `${kind} modes at this value`);
  const expected = (k, kind) => sweep.values[k].roots.filter((r) => r[2] === (kind === "differential" ? 1 : 0)).map(([x, y]) => ({x, y}));
  for (const kind of ["differential", "common"]) assert.deepEqual(await rootsAt(kind), expected(at, kind));
  await slider.focus();
  await page.keyboard.press("ArrowRight");
  assert.equal(await slider.inputValue(), String(at + 1));
  for (const kind of ["differential", "common"]) assert.deepEqual(await rootsAt(kind), expected(at + 1, kind));
  assert.notDeepEqual(await rootsAt("differential"), expected(at, "differential"));
  await page.keyboard.press("End");
  const last = sweep.values[sweep.values.length - 1];
  assert.match(await verdict.textContent(), new RegExp(`With 47 ohm the turn-off edge ${last.passes ? "PASSES" : "FAILS"}`));
  assert.equal(last.passes, true);
  assert.equal(await slider.getAttribute("aria-valuetext"), "47 ohm (end of a window), passes");
  // Both edges.
  await page.locator("#roots-edge input[value=turn_on]").check();
  assert.match(await verdict.textContent(), /With 3\.3 ohm the turn-on edge FAILS/);
  const every = withLabel(await drawn(page, "roots-figure"), "differential modes at every value");
  const on = d.sweeps.find((s) => s.edge === "turn_on");
  assert.equal(every.length, on.values.flatMap((v) => v.roots.filter((r) => r[2] === 1)).length);
  assert.deepEqual(faults, []);
  await page.close();
});

test("the map holds the plane of the edge and kind that are chosen, and the path", async () => {
  const {page, faults} = await open(browser, pages.first);
  const d = await data(page);
  const cells = async () => values2(withLabel(await drawn(page, "plane-figure"), "cells"));
  const values2 = (points) => points.map((p) => [p.x, p.y]);
  const shown = async () => page.evaluate(() => ringquellPage.charts["plane-figure"].data.datasets.find((s) => s.label === "cells").data.map((c) => c.v));
  const plane = (edge) => d.planes.find((p) => p.edge === edge);
  for (const [edge, kind] of [["turn_off", "differential"], ["turn_off", "common"], ["turn_on", "common"], ["turn_on", "differential"]]) {
    await page.locator(`#plane-edge input[value=${edge}]`).check();
    await page.locator(`#plane-kind input[value=${kind}]`).check();
    assert.deepEqual(await cells(), plane(edge).rows.flatMap((r) => r.vds_v.map((v) => [v, r.current_a])));
    assert.deepEqual(await shown(), plane(edge).rows.flatMap((r) => r[kind]));
  }
  const path = withLabel(await drawn(page, "plane-figure"), "path line").filter((p) => p.y !== null);
  assert.deepEqual(path, d.check.points.filter((p) => p.edge === "turn_on").map((p) => ({x: p.vds_v, y: p.current_a})));
  assert.deepEqual(faults, []);
  await page.close();
});

test("the snubber map holds its cells, the line of what is asked lies between those that meet it and those that miss, and what is fitted is marked", async () => {
  for (const name of ["first", "cascode", "uneven"]) {
    const {page} = await open(browser, pages[name]);
    const d = await data(page), map = d.snubber_map, asked = d.check.requirement.differential_damping;
    assert.equal(map.not_shown, "", name);
    const plot = await page.evaluate(() => ringquellPage.charts["snubber-figure"].data.datasets.map((s) => ({label: s.label, points: s.data.map((c) => ({x: c.x, y: c.y, v: c.v}))})));
    assert.deepEqual(withLabel(plot, "cells"), map.rows.flatMap((row) => map.resistance_ohm.map((x, k) => ({x, y: row.capacitance_f, v: row.differential[k]}))), name);
    const all = map.rows.flatMap((row) => row.differential), line = plot.find((s) => s.label === `damping as asked: ${asked}`);
    assert.equal(line !== undefined, all.some((v) => v < asked) && all.some((v) => v >= asked), name);
    // Each end of the line lies on an edge between two neighbours, one of which meets what the other misses.
    for (const p of line ? line.points.filter((q) => Number.isFinite(q.y) && q.y !== null) : []) {
      const span = (values, at) => [values.filter((v) => v <= at * (1 + 1e-9)).length - 1, values.findIndex((v) => v >= at * (1 - 1e-9))];
      const cs = span(map.rows.map((r) => r.capacitance_f), p.y), rs = span(map.resistance_ohm, p.x), around = cs.flatMap((i) => rs.map((k) => map.rows[i].differential[k]));
      assert.ok(Math.min(...around) < asked + 1e-9 && Math.max(...around) >= asked - 1e-9, `${name}: ${around}`);
    }
    const fitted = plot.find((s) => s.label.startsWith("fitted"));
    if (map.fitted === null) assert.equal(fitted, undefined, name);
    else assert.deepEqual(fitted.points.map((p) => [p.x, p.y]), [[map.fitted.resistance_ohm, map.fitted.capacitance_f]], name);
    assert.match(await page.locator("#snubber-figure figcaption").textContent(), map.fitted === null ? /^No snubber is fitted.*assumed/ : /^Fitted/);
    await page.close();
  }
});

test("elements of an uneven board are one row each, and open to the positions from the keyboard", async () => {
  const {page} = await open(browser, pages.uneven);
  const d = await data(page), mode = d.explain[0], lines = page.locator("#explain-tables table").first().locator("tbody tr:not([hidden])");
  const closed = await lines.count();
  assert.ok(closed <= mode.by_element.length && closed > 5);
  const element = mode.by_element.find((e) => e.each.length === d.check.positions), button = page.locator("#explain-tables button", {hasText: element.name}).first();
  assert.equal(await button.getAttribute("aria-expanded"), "false");
  const sums = await button.locator("xpath=ancestor::tr").locator("td").allTextContents();
  assert.ok(sums[1].startsWith(`${Number((100 * Number(element.energy_share.toFixed(4))).toPrecision(3))} %\neach `), sums[1]);
  await button.focus();
  await page.keyboard.press("Enter");
  assert.equal(await button.getAttribute("aria-expanded"), "true");
  assert.equal(await lines.count(), closed + element.each.length);
  const shares = await page.locator("#explain-tables table").first().locator("tr.member:not([hidden]) td:nth-child(3)").allTextContents();
  assert.deepEqual(shares, element.each.map((e) => `${Number((100 * Number(e[2].toFixed(4))).toPrecision(3))} %`));
  await page.emulateMedia({media: "print"});  // the sums alone
  assert.equal(await page.locator("#explain-tables tr.member:not([hidden])").first().isVisible(), false);
  assert.equal(await button.isVisible(), true);
  await page.emulateMedia({media: null});
  await page.keyboard.press("Space");
  assert.equal(await lines.count(), closed);
  await page.close();
});

test("a measured ring is a cross among the modes, beside what is computed at its point", async () => {
  const file = makePage(join(cases, "ropeway-first.yaml"), "measured", {changes: ["operation.path.steps=4",
    "measured=[{frequency: 130 MHz, decay: 40 ns, at: turn_off current 2}]"], more: ["--no-budget"]});
  const {page, faults} = await open(browser, file);
  const [ring] = (await data(page)).check.measured;
  assert.equal(await page.locator("#roots-edge input:checked").getAttribute("value"), "turn_off");
  assert.deepEqual(withLabel(await drawn(page, "roots-figure"), "measured"), [{x: ring.natural_frequency_hz, y: ring.damping_ratio}]);
  assert.deepEqual(withLabel(await drawn(page, "roots-figure"), "computed at the measured point, as fitted"),
    [{x: ring.nearest.natural_frequency_hz, y: ring.nearest.damping_ratio}]);
  assert.equal(await page.evaluate(() => ringquellPage.charts["roots-figure"].data.datasets.find((d) => d.label === "measured").pointStyle), "crossRot");
  assert.match(await page.locator("#roots-figure figcaption").textContent(), /Measured at “turn_off current 2”, the cross: 130 MHz, damping ratio 0\.0306, falls to 1\/e in 40 ns; computed there/);
  assert.match(await page.locator("#roots table").first().textContent(), /turn_off current 2130 MHz, damping ratio 0\.0306, falls to 1\/e in 40 ns/);
  await page.locator("#roots-edge input[value=turn_on]").check();
  assert.equal((await drawn(page, "roots-figure")).some((s) => s.label === "measured"), false);
  assert.deepEqual(faults, []);
  await page.close();
});

test("the page names no file but the case's own", async () => {
  for (const [name, file] of Object.entries(pages)) {
    const {page} = await open(browser, file);
    await unfold(page);
    const own = (await data(page)).case.file;
    const text = await page.evaluate(() => document.body.innerText + [...document.querySelectorAll("[aria-label], title, desc")].map((x) => x.getAttribute("aria-label") || x.textContent).join(" "));
    const named = (text.match(/[\w./-]+\.(md|ya?ml|csv|html|json|s2p|txt)\b/g) || []).filter((f) => f !== own);
    assert.deepEqual(named, [], name);
    assert.ok(text.includes(own), name);
    await page.close();
  }
});

test("beside every damping ratio in words stands how fast it falls or grows", async () => {
  const {page} = await open(browser, pages.first);
  await unfold(page);
  for (const id of ["path-figure", "resistance-turn_on", "roots-figure", "plane-figure", "snubber-figure"])
    assert.match(await page.locator(`#${id} tbody`).textContent(), /(1\/e|x2) [0-9.]+ ns/, id);
  for (const selector of ["#path-figure figcaption", "#roots-verdict", "#plane-figure figcaption", "#snubber-figure figcaption", "#explain-tables caption", "#choose-tables tbody", "#verdict tbody"])
    assert.match(await page.locator(selector).first().textContent(), /(falls to 1\/e in|doubles in|1\/e|x2) [0-9.]+ [nu]s/, selector);
  await page.close();
});

test("beads, ring and shapes hold the JSON's numbers", async () => {
  for (const [name, file] of Object.entries(pages)) {
    const {page} = await open(browser, file);
    const d = await data(page);
    for (const [k, bead] of d.beads.entries()) {
      const plot = await drawn(page, `bead-${k}`), fitted = bead.measured.frequency_hz.length > 0;
      assert.deepEqual(values(withLabel(plot, fitted ? "R of the fit" : "R")), bead.resistance_ohm, name);
      assert.deepEqual(values(withLabel(plot, fitted ? "X of the fit" : "X")), bead.reactance_ohm, name);
      if (fitted) assert.deepEqual(values(withLabel(plot, "R measured")), bead.measured.resistance_ohm, name);
    }
    const ring = await drawn(page, "ring-figure");
    assert.deepEqual(ring.map((c) => values(c.points)), d.ring.curves.map((c) => c.voltage_v), name);
    for (const k of d.shapes.keys()) assert.equal(await page.locator(`#shape-${k} svg[role=img]`).count(), 1, name);
    await page.close();
  }
});

test("a bead given by a measured curve is drawn with its points", async () => {
  const {page} = await open(browser, pages.curves);
  const d = await data(page);
  assert.ok(d.beads.some((b) => b.measured.frequency_hz.length > 10));
  await page.close();
});

test("every plot has a text alternative, a caption and a table with its numbers", async () => {
  for (const [name, file] of Object.entries(pages)) {
    const {page} = await open(browser, file);
    const d = await data(page);
    const figures = await page.locator("figure").all();
    assert.ok(figures.length >= 6, name);
    for (const figure of figures) {
      if (await figure.locator("canvas, svg[role=img]").count() === 0) continue;  // a plane that is not shown says so
      const label = await figure.locator("canvas, svg[role=img]").first().getAttribute("aria-label");
      assert.ok(label && label.length > 40, `${name}: ${label}`);
      assert.ok((await figure.locator("figcaption").textContent()).length > 40, name);
      await figure.locator("summary").click();
      await figure.locator("details tbody tr").first().waitFor();
    }
    assert.equal(await page.locator("#path-figure tbody tr").count(), d.check.points.length, name);
    await page.close();
  }
});

test("the tables hold every point's device values, the budget, the choice, the reasons and the spread", async () => {
  const {page} = await open(browser, pages.first);
  const d = await data(page);
  await unfold(page);
  assert.equal(await page.locator("#device-values tbody tr").count(), 98);
  assert.match(await page.locator("#device-values tbody tr").first().textContent(), /turn_on current 0800 V0 A25 degC1 to 4MOSFET/);
  assert.equal(await page.locator("#budget-tables tbody tr").count(), d.budget.length);
  assert.equal(await page.locator("#choose-tables tbody tr").count(), d.choose.options.length + d.choose.beads.length);
  // Who reads the page may have no file of a bead: its values stand there.
  assert.match(await page.locator("#choose-tables table").last().textContent(), /bead-sections15 mohm.*9 ohm beside 22 nH; 22 ohm beside 95 nH/);
  assert.match(await page.locator("#explain-tables").textContent(), /device\.capacitance\.cds210 pF52\.9 %/);
  await page.close();
  const other = (await open(browser, pages.spread)).page;
  assert.match(await other.locator("#spread-tables").textContent(), /200 samples of the case's tolerances \(seed 1\): 100 % meet the whole requirement/);
  await other.close();
});

test("the sections stand in their order, with cautions, the case's hash and empty lines to sign", async () => {
  const {page} = await open(browser, pages.spread);
  const ids = await page.locator("main section:not([hidden])").evaluateAll((all) => all.map((s) => s.id));
  assert.deepEqual(ids, ["verdict", "to-do", "network", "path", "resistance", "roots", "plane", "snubber", "shape", "beads", "ring", "choose", "explain", "spread",
    "devices", "warnings", "cautions", "record"]);
  const d = await data(page);
  const record = await page.locator("#record").textContent();
  assert.ok(record.includes(d.case.hash) && record.includes("2026-01-02") && record.includes(d.ringquell));
  assert.deepEqual(await page.locator(".signoff td").evaluateAll((all) => all.map((c) => c.textContent)), Array(12).fill(""));
  assert.match(await page.locator("#cautions").textContent(), /A DC link kills/);
  await page.close();
});

test("titles and names are text", async () => {
  const evil = "<script>alert(1)</script>", file = makePage(join(cases, "ropeway-first.yaml"), "evil",
    {changes: [`title='${evil}<img src=x onerror=alert(2)>'`, "operation.path.steps=2"], more: ["--no-budget"]});
  const {page, faults} = await open(browser, file);
  assert.equal(await page.locator("h1").textContent(), `${evil}<img src=x onerror=alert(2)>`);
  assert.equal(await page.locator("main img, main script").count(), 0);
  assert.deepEqual(faults, []);
  await page.close();
  const text = readFileSync(join(cases, "ice-rink-cascode.yaml"), "utf8").replace("name: voltage rise", `name: "${evil} & <b>rise</b>"`);
  const named = await open(browser, makePage(caseFile("named", text), "named"));
  assert.ok((await data(named.page)).check.points.some((p) => p.name.startsWith(evil)));
  await unfold(named.page);
  assert.match(await named.page.locator("#path-figure tbody").textContent(), /<script>alert\(1\)<\/script> & <b>rise<\/b>/);
  assert.equal(await named.page.locator("main b, main script").count(), 0);
  assert.deepEqual(named.faults, []);
  await named.page.close();
});

test("on a phone nothing is wider than the screen", async () => {
  for (const [name, file] of Object.entries(pages)) {
    const {page} = await open(browser, file, {width: 360, height: 740});
    assert.ok(await page.evaluate(() => document.documentElement.scrollWidth) <= 360, name);
    await unfold(page);
    assert.ok(await page.evaluate(() => document.documentElement.scrollWidth) <= 360, `${name}, unfolded`);
    await page.close();
  }
});

test("print gives every section, every table and the signatures, and the screen comes back as it was", async () => {
  const {page, faults} = await open(browser, pages.first);
  const before = await page.locator("#path-figure canvas").evaluate((c) => [c.width, c.height]);
  const file = join(folder, "first.pdf");
  await page.pdf({path: file, preferCSSPageSize: true});
  const text = pdfText(file), pagesOf = text.split("\f").length - 1;
  assert.ok(pagesOf >= 8, `${pagesOf} pages`);
  for (const heading of await page.locator("main section:not([hidden]) h2").allTextContents()) assert.ok(text.includes(heading), heading);
  for (const caption of ["Sign-off", "Damping along the path", "Least damping against the gate resistor, turn-off", "Roots at 1.5 ohm", "Least damping of differential modes",
    "Shape of the worst differential mode", "The ring", "Device values used at each point", "Elements at"]) assert.ok(text.includes(caption), caption);
  for (const point of (await data(page)).check.points) assert.ok(text.includes(point.name), point.name);
  assert.ok(text.indexOf("Sign-off") < text.indexOf("The plots in numbers"));
  assert.equal(await page.locator("#appendix table").count(), 0);
  assert.deepEqual(await page.locator("#path-figure canvas").evaluate((c) => [c.width, c.height]), before);
  assert.deepEqual(faults, []);
  await page.close();
});

test("axe-core finds no violation, folded or unfolded, on wide and narrow screens", async () => {
  for (const [name, file] of Object.entries(pages)) {
    for (const width of [1000, 360]) {
      const {page} = await open(browser, file, {width});
      if (width === 1000) await unfold(page);
      await page.evaluate(axe);
      // Every rule judges every node; of what passes only one node each is told: half of the time goes into telling.
      const {violations, passes} = await page.evaluate(() => axe.run(document, {runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "best-practice"], resultTypes: ["violations"]}));
      assert.ok(passes.length > 20);
      assert.deepEqual(violations.map((v) => `${v.id}: ${v.nodes.map((n) => n.html).slice(0, 3).join(" ")}`), [], `${name} at ${width}`);
      await page.close();
    }
  }
});

test("lines and text of the plots contrast with their ground by WCAG 2.1's formula", async () => {
  const {page} = await open(browser, pages.first);
  // Relative luminance and contrast of WCAG 2.1 (W3C Recommendation), 3:1 for graphics, 4.5:1 for text.
  const luminance = (hex) => [1, 3, 5].map((k) => parseInt(hex.slice(k, k + 2), 16) / 255)
    .map((c) => (c <= 0.03928 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4)).reduce((sum, c, k) => sum + c * [0.2126, 0.7152, 0.0722][k], 0);
  const contrast = (a, b) => (Math.max(luminance(a), luminance(b)) + 0.05) / (Math.min(luminance(a), luminance(b)) + 0.05);
  assert.equal(Math.round(contrast("#000000", "#ffffff")), 21);
  const colors = await page.evaluate(() => ["ink", "soft", "differential", "common", "hot"].map((n) => getComputedStyle(document.documentElement).getPropertyValue(`--${n}`).trim()));
  for (const color of colors) assert.ok(contrast(color, "#ffffff") >= 4.5, color);
  const source = readFileSync(pages.first, "utf8");
  const pairs = [...source.matchAll(/color: "(#[0-9a-f]{6})", text: "(#[0-9a-f]{6})"/g)];
  assert.equal(pairs.length, 5);
  for (const [, ground, text] of pairs) assert.ok(contrast(ground, text) >= 4.5, `${text} on ${ground}`);
  await page.close();
});

test("JUnit output is well-formed XML with the counts it says", async () => {
  const made = spawnSync(command, ["check", join(cases, "ropeway-first.yaml"), "--set", "title='<&\"]]>'", "--format", "junit"], {encoding: "utf8"});
  assert.equal(made.status, 1);
  const page = await browser.newPage();
  const seen = await page.evaluate((xml) => {
    const doc = new DOMParser().parseFromString(xml, "application/xml");
    return {bad: doc.querySelectorAll("parsererror").length, suite: doc.querySelector("testsuite").getAttribute("name"), cases: doc.querySelectorAll("testcase").length,
      failures: doc.querySelectorAll("failure").length, told: doc.documentElement.getAttribute("failures"), tests: doc.documentElement.getAttribute("tests")};
  }, made.stdout);
  assert.deepEqual(seen, {bad: 0, suite: "<&\"]]>", cases: 3, failures: 2, told: "2", tests: "3"});
  await page.close();
});

test("a layout of 64 positions makes a page below 2 MB that opens without an error", async () => {
  const text = readFileSync(join(cases, "ropeway-first.yaml"), "utf8").replace("positions: 4", "positions: 64").replace("load_current: 240 A", "load_current: 3840 A");
  const file = makePage(caseFile("many", text), "many");
  assert.ok(statSync(file).size < 2e6);
  const {page, faults, milliseconds} = await open(browser, file);
  console.log(`64 positions: ${Math.ceil(statSync(file).size / 1000)} kB, opened and drawn in ${Math.round(milliseconds)} ms`);
  assert.deepEqual(faults, []);
  await page.close();
});
