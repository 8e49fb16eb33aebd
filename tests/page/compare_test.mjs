// Two cases side by side in a headless browser: both curves, the bars, the tables; keyboard, paper, phone and axe-core.
import assert from "node:assert/strict";
import {readFileSync} from "node:fs";
import {createRequire} from "node:module";
import {join} from "node:path";
import {after, before, test} from "node:test";
import {caseFile, cases, folder, launch, makeComparison, open, pdfText} from "./browser.mjs";

const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
let browser;
const pages = {};
before(async () => {
  browser = await launch();
  const first = join(cases, "ropeway-first.yaml"), text = readFileSync(first, "utf8");
  pages.cured = makeComparison(first, join(cases, "ropeway-cured.yaml"), "cured");
  // Other positions and another temperature: nothing is parted, and B's points are others.
  pages.apart = makeComparison(first, caseFile("six", text.replace("positions: 4", "positions: 6").replace("operation:", "operation:\n  junction_temperature: 125 degC")), "apart");
  pages.common = makeComparison(caseFile("one", text.replace("positions: 4", "positions: 1").replace("load_current: 240 A", "load_current: 60 A")),
    caseFile("uno", text.replace("positions: 4", "positions: 1").replace("load_current: 240 A", "load_current: 50 A")), "common");
});
after(() => browser.close());

const drawn = (page, id) => page.evaluate((name) => ringquellPage.charts[name].data.datasets.map((d) => ({label: d.label, dash: d.borderDash, ground: d.backgroundColor,
  color: d.borderColor, points: d.data.map((p) => ({y: Number.isNaN(p.y) ? null : p.y, name: p.name})).filter((p) => p.name !== undefined)})), id);
const data = (page) => page.evaluate(() => ringquellPage.data);

test("a plot holds the least damping of each point, kind and case, A and B apart without colour", async () => {
  for (const [name, file] of Object.entries(pages)) {
    const {page, faults} = await open(browser, file);
    const d = await data(page);
    for (const edge of ["turn_on", "turn_off"]) {
      const plot = await drawn(page, `path-${edge}`);
      for (const [letter, check] of [["A", d.a.check], ["B", d.b.check]])
        for (const kind of name === "common" ? ["common"] : ["differential", "common"]) {
          const curve = plot.find((c) => c.label === `${letter}, ${kind} modes`);
          assert.ok(curve, `${name} ${letter} ${kind}`);
          const points = check.points.filter((p) => p.edge === edge);
          assert.equal(curve.points.length, points.length);
          for (const p of points) {
            const ratios = p.modes.filter((m) => m.kind === kind).map((m) => m.damping_ratio);
            assert.equal(curve.points.find((c) => c.name === p.name).y, ratios.length === 0 ? null : Math.min(...ratios), `${name} ${letter} ${p.name}`);
          }
        }
      for (const kind of ["differential", "common"]) {
        const [a, b] = ["A", "B"].map((letter) => plot.find((c) => c.label === `${letter}, ${kind} modes`));
        if (!a || !b) continue;
        assert.notDeepEqual(a.dash, b.dash);
        assert.notEqual(a.ground, b.ground);
      }
    }
    assert.deepEqual(faults, [], name);
    await page.close();
  }
});

test("bars are as long as the parts, to the side of their sign", async () => {
  const {page} = await open(browser, pages.cured);
  const parts = (await data(page)).compare.inputs.map((i) => i.part);
  assert.ok(parts.length > 0 && parts.every((p) => p !== null));
  const bars = await page.locator(".bars li").evaluateAll((all) => all.map((li) => {
    const rect = li.querySelector("rect").getBoundingClientRect(), line = li.querySelector(".bar path").getBoundingClientRect();
    return {told: Number(li.querySelector(".part").textContent), width: rect.width, right: rect.left >= line.left - 1, left: rect.right <= line.right + 1};
  }));
  const largest = Math.max(...bars.map((b) => Math.abs(b.told))), widest = Math.max(...bars.map((b) => b.width));
  for (const [k, part] of parts.entries()) {
    const bar = bars[k];
    assert.ok(Math.abs(bar.told - part) <= 5.1e-5, `${bar.told} for ${part}`);
    assert.ok(Math.abs(bar.width / widest - Math.abs(part) / largest) < 0.02, `${bar.width} of ${widest} for ${part} of ${largest}`);
    if (bar.width > 3) assert.ok(part > 0 ? bar.right : bar.left, `side of ${part}`);
  }
  await page.close();
});

test("the tables hold the inputs and results that differ, and what is not divisible is named", async () => {
  for (const [name, file] of Object.entries(pages)) {
    const {page} = await open(browser, file);
    const d = await data(page);
    const rows = (id) => page.locator(`#${id} tbody tr`).evaluateAll((all) => all.map((r) => [...r.cells].map((c) => c.textContent)));
    const inputs = await rows("inputs"), results = await rows("results");
    assert.deepEqual(inputs.map((r) => r.slice(1, 3)), d.compare.inputs.map((i) => [i.a, i.b]), name);
    assert.deepEqual(results, d.compare.results.map((r) => [r.what, r.a, r.b]), name);
    if (name === "apart") {
      assert.match(await page.locator("#parts").textContent(), /not parted: not divisible: positions/);
      assert.equal(await page.locator(".bars").count(), 0);
    }
    await page.close();
  }
});

test("it is complete on paper, and comes back", async () => {
  const {page, faults} = await open(browser, pages.cured);
  const file = join(folder, "cured.pdf");
  await page.pdf({path: file, preferCSSPageSize: true});
  const text = pdfText(file);
  for (const heading of await page.locator("main section:not([hidden]) h2").allTextContents()) assert.ok(text.includes(heading), heading);
  for (const edge of ["turn-on", "turn-off"]) assert.ok(text.includes(`Damping along the path, ${edge}`), edge);
  for (const point of (await data(page)).a.check.points) assert.ok(text.includes(point.name), point.name);
  assert.equal(await page.locator("#appendix table").count(), 0);
  assert.deepEqual(faults, []);
  await page.close();
});

test("the tables of the plots open from the keyboard", async () => {
  const {page} = await open(browser, pages.cured);
  const summary = page.locator("#path-turn_on summary");
  await summary.focus();
  await page.keyboard.press("Enter");
  await page.locator("#path-turn_on tbody tr").first().waitFor();
  const d = await data(page), names = new Set([...d.a.check.points, ...d.b.check.points].filter((p) => p.edge === "turn_on").map((p) => p.name));
  assert.equal(await page.locator("#path-turn_on tbody tr").count(), names.size);
  await page.close();
});

test("axe-core finds no violation, and nothing is wider than a phone", async () => {
  for (const [name, file] of Object.entries(pages))
    for (const width of [1200, 390]) {
      const {page} = await open(browser, file, {width});
      await page.evaluate(() => document.querySelectorAll("details").forEach((x) => { x.open = true; }));
      assert.ok(await page.evaluate(() => document.documentElement.scrollWidth) <= width, name);
      await page.evaluate(axe);
      // Every rule judges every node; of what passes only one node each is told: half of the time goes into telling.
      const {violations, passes} = await page.evaluate(() => axe.run(document, {runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "best-practice"], resultTypes: ["violations"]}));
      assert.ok(passes.length > 20);
      assert.deepEqual(violations.map((v) => `${v.id}: ${v.nodes.map((n) => n.html).slice(0, 3).join(" ")}`), [], `${name} at ${width}`);
      await page.close();
    }
});
