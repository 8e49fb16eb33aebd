// What the page looks like on a wide screen and on a phone: nothing is cut off, no two texts of a plot or drawing lie on each
// other, drawings open on the device.
import assert from "node:assert/strict";
import {join} from "node:path";
import {after, before, test} from "node:test";
import {cases, launch, makeCalibration, makeComparison, makePage, open, textsOfPlots} from "./browser.mjs";

const widths = [1200, 390];
let browser;
const pages = {};
before(async () => {
  browser = await launch();
  pages.first = makePage(join(cases, "ropeway-first.yaml"), "first", {more: ["--beads", join(cases, "parts")]});
  pages.cascode = makePage(join(cases, "ice-rink-cascode.yaml"), "cascode");
  pages.uneven = makePage(join(cases, "mine-hoist-bus.yaml"), "uneven", {changes: ["operation.path.steps=4"], more: ["--no-budget"]});
  pages.curves = makePage(join(cases, "ski-lift-curves.yaml"), "curves", {changes: ["operation.path.steps=4"], more: ["--no-budget"]});
  // Every part beside the gate and the device.
  const every = ["tab={capacitance: 40 pF, resistance: 0.5 ohm}",
    "gate_shunt={capacitance: 1 nF, resistance: 2.2 ohm, inductance: 2 nH}", "gate_drain={capacitance: 2.5 pF, resistance: 10 ohm}",
    "common_mode_choke={inductance: 2.2 uH, leakage: 20 nH, resistance: 330 ohm}", "gate_path.bead={dc_resistance: 30 mohm, capacitance: 1 pF, resistance: 60 ohm, inductance: 100 nH}",
    "gate_path.diode={blocks: turn_on, capacitance: 60 pF, on_resistance: 0.6 ohm, resistor: 2.2 ohm}",
    "kelvin_path={resistor: 1 ohm, inductance: 3 nH, bead: {resistance: 60 ohm, inductance: 100 nH}}", "measured=[{frequency: 130 MHz, decay: 40 ns, at: turn_on current 2}]"];
  for (const [name, file] of [["crowded", "ropeway-first"], ["crowdedCascode", "tunnel-fan-cascode"]])
    pages[name] = makePage(join(cases, `${file}.yaml`), name, {changes: [...(name === "crowded" ? ["operation.path.steps=2"] : []), ...every], more: ["--no-budget"]});
  pages.comparison = makeComparison(join(cases, "ropeway-first.yaml"), join(cases, "ropeway-cured.yaml"), "comparison");
  pages.calibration = makeCalibration(join(cases, "bench", "ropeway-first.yaml"), "calibration");
  pages.unexplained = makeCalibration(join(cases, "ropeway-first.yaml"), "unexplained", ["--ring", "12MHz:400ns", "--at", "turn_on current 1"]);
});
after(() => browser.close());

const overlap = (a, b) => Math.min(a.right, b.right) - Math.max(a.left, b.left) > 1 && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 1;

test("no two texts of a plot or drawing lie on each other, and none runs out of it", async () => {
  for (const [name, file] of Object.entries(pages))
    for (const width of widths) {
      const {page} = await open(browser, file, {width});
      const plots = await textsOfPlots(page), wrong = [];
      assert.ok(plots.length >= ({comparison: 2, calibration: 5, unexplained: 1}[name] || 8), name);
      for (const plot of plots) {
        assert.ok(plot.texts.length > 0, `${name} ${plot.name}`);
        plot.texts.forEach((a, k) => {
          if (a.left < -1 || a.right > plot.width + 1 || a.top < -1 || a.bottom > plot.height + 1) wrong.push(`${plot.name}: “${a.text}” runs out`);
          for (const b of plot.texts.slice(k + 1)) if (overlap(a, b)) wrong.push(`${plot.name}: “${a.text}” on “${b.text}”`);
        });
      }
      assert.deepEqual(wrong, [], `${name} at ${width}`);
      await page.close();
    }
});

test("every choice of a plot keeps its texts apart", async () => {
  for (const width of widths) {
    const {page} = await open(browser, pages.first, {width});
    for (const choice of await page.locator("input[type=radio]").all()) {
      await choice.check();
      for (const plot of await textsOfPlots(page))
        for (const [k, a] of plot.texts.entries()) assert.deepEqual(plot.texts.slice(k + 1).filter((b) => overlap(a, b)).map((b) => `${plot.name}: ${a.text} on ${b.text}`), []);
    }
    await page.close();
  }
});

test("on a phone every cell of every table is on the screen, whole, and says what its column is", async () => {
  for (const [name, file] of Object.entries(pages)) {
    const {page} = await open(browser, file, {width: 390, height: 800});
    await page.evaluate(() => document.querySelectorAll("details").forEach((d) => { d.open = true; }));
    for (const button of await page.locator("button[aria-expanded]").all()) await button.click();
    const found = await page.evaluate(() => {
      const wrong = [];
      let cells = 0;
      for (const table of document.querySelectorAll("main table")) {
        const headings = [...table.querySelectorAll("thead th")].map((h) => h.textContent), of = table.caption.textContent;
        for (const row of table.querySelectorAll("tbody tr")) {
          if (row.hidden) wrong.push(`${of}: a row is folded`);
          let column = 0;
          for (const cell of row.cells) {
            const box = cell.getBoundingClientRect(), label = getComputedStyle(cell, "::before").content;
            cells += 1;
            if (box.width < 10 || box.height < 5 || box.left < 0 || box.right > 390 || cell.scrollWidth > cell.clientWidth + 1) wrong.push(`${of}: ${cell.textContent} is cut off`);
            if (cell.tagName === "TD" && cell.colSpan === 1 && !label.startsWith(JSON.stringify(headings[column]))) wrong.push(`${of}: ${label} for ${headings[column]}`);
            column += cell.colSpan;
          }
          if (column !== headings.length) wrong.push(`${of}: ${column} cells of ${headings.length}`);
        }
      }
      return {cells, wrong: wrong.slice(0, 10), wide: document.documentElement.scrollWidth};
    });
    assert.deepEqual(found.wrong, [], name);
    assert.ok(found.cells > 40 && found.wide <= 390, `${name}: ${found.cells} cells, ${found.wide} px`);
    await page.close();
  }
});

test("on a phone the drawing opens on the device", async () => {
  for (const name of ["first", "cascode", "uneven", "crowded", "crowdedCascode"]) {
    const {page} = await open(browser, pages[name], {width: 390, height: 800});
    const seen = await page.evaluate(() => {
      const box = document.querySelector(".drawing"), of = (x) => x.getBoundingClientRect(), frame = of(box);
      // The channel's rhombus, and what it drives and leaks.
      const channel = [...box.querySelectorAll(".part .box")].find((p) => p.getAttribute("d").includes("l18 22l-18 22")), words = [...box.querySelectorAll("text")].filter((t) => /^g(m|ds) /.test(t.textContent));
      return {scrolls: box.scrollWidth > box.clientWidth, within: [channel, ...words].map((x) => of(x).left >= frame.left && of(x).right <= frame.right), tab: box.tabIndex};
    });
    assert.equal(seen.scrolls, true, name);
    assert.equal(seen.tab, 0, name);
    assert.ok(seen.within.length >= 3 && seen.within.every((x) => x), `${name}: ${seen.within}`);
    await page.close();
  }
});
