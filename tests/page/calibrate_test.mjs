// What records say of a case, in a headless browser: records with fits, modes, impedances, bars; keyboard, paper, phone and axe-core.
import assert from "node:assert/strict";
import {readFileSync} from "node:fs";
import {createRequire} from "node:module";
import {join} from "node:path";
import {after, before, test} from "node:test";
import {cases, folder, launch, makeCalibration, open, pdfText} from "./browser.mjs";

const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
let browser;
const pages = {};
before(async () => {
  browser = await launch();
  const first = join(cases, "ropeway-first.yaml"), ring = (text, at) => ["--ring", text, "--at", at];
  pages.bench = makeCalibration(join(cases, "bench", "ropeway-first.yaml"), "bench");
  pages.read = makeCalibration(first, "read", ring("118MHz:50ns", "turn_on current 1"));
  pages.odd = makeCalibration(first, "odd", ring("12MHz:400ns", "turn_on current 1"));
  pages.far = makeCalibration(first, "far", ring("2GHz:4ns", "turn_on current 1"));
});
after(() => browser.close());

const drawn = (page, id) => page.evaluate((name) => ringquellPage.charts[name].data.datasets.map((d) => ({label: d.label, axis: d.yAxisID, dash: d.borderDash, ground: d.backgroundColor,
  points: d.data.map((p) => ({x: p.x, y: p.y, dx: p.dx, dy: p.dy}))})), id);
const data = (page) => page.evaluate(() => ringquellPage.data);
const labelled = (plot, label) => plot.find((d) => d.label === label);
const near = (a, b) => Math.abs(a - b) <= 1e-9 * Math.max(Math.abs(a), Math.abs(b));
const same = (a, b, what) => {
  assert.equal(a.length, b.length, what);
  a.forEach((x, k) => assert.ok(near(x, b[k]), `${what} ${k}: ${x} and ${b[k]}`));
};
const ys = (dataset) => dataset.points.map((p) => p.y);

test("a waveform stands with its fit, and below it what that leaves, on one time axis", async () => {
  const {page, faults} = await open(browser, pages.bench);
  const {records} = (await data(page)).calibrate, k = records.findIndex((r) => r.fit), {shown, starts, steady_s: steady} = records[k].fit;
  const wave = await drawn(page, `wave-${k}`);
  same(ys(labelled(wave, "record")), shown.value, "record");
  same(ys(labelled(wave, "fit")), shown.fit, "fit");
  shown.value.forEach((v, n) => assert.ok(Math.abs(labelled(wave, "record less fit").points[n].y - (v - shown.fit[n])) < 1e-12));
  for (const d of wave) same(d.points.map((p) => p.x), shown.time_s.map((t) => t * 1e9), d.label);
  const boxes = await page.evaluate((id) => Object.fromEntries(Object.entries(ringquellPage.charts[id].scales).map(([name, s]) => [name, {top: s.top, bottom: s.bottom}])), `wave-${k}`);
  assert.ok(boxes.y.bottom <= boxes.rest.top + 1, "the residuals stand below");
  const later = await drawn(page, `starts-${k}`);
  same(ys(labelled(later, "frequency")), starts.map((s) => s.frequency_hz * 1e-6), "frequency");
  same(labelled(later, "damping ratio").points.map((p) => p.dy), starts.map((s) => s.damping_error), "errors");
  assert.match(await page.locator(`#starts-${k} figcaption`).textContent(), steady ? /stand still from 40 ns to 155 ns, the shaded part/ : /Over no part/);
  assert.deepEqual(faults, []);
  await page.close();
});

test("an impedance stands as measured, before and after, by magnitude and phase", async () => {
  const {page} = await open(browser, pages.bench);
  const {records} = (await data(page)).calibrate, k = records.findIndex((r) => r.impedance), z = records[k].impedance, plot = await drawn(page, `impedance-${k}`);
  assert.ok(z.frequency_hz.length === records[k].points && records[k].points > 10);
  for (const [label, s] of [["measured", z.measured], ["as the case stands", z.before], ["with what is settled", z.after]]) {
    same(ys(labelled(plot, label)), s.resistance_ohm.map((r, n) => Math.hypot(r, s.reactance_ohm[n])), label);
    same(ys(labelled(plot, `phase ${label}`)), s.resistance_ohm.map((r, n) => Math.atan2(s.reactance_ohm[n], r) * 180 / Math.PI), label);
  }
  assert.notDeepEqual(labelled(plot, "as the case stands").dash, labelled(plot, "with what is settled").dash);
  await page.close();
});

test("a measured ring is a cross with its errors, beside the modes before and after", async () => {
  for (const [name, file] of Object.entries(pages)) {
    const {page, faults} = await open(browser, file);
    const {records} = (await data(page)).calibrate;
    for (const [k, r] of records.entries()) {
      if (r.impedance) continue;
      const plot = await drawn(page, `modes-${k}`), cross = labelled(plot, "measured").points;
      assert.deepEqual(cross, [{x: r.frequency_hz, y: r.damping_ratio, dx: r.frequency_counted_hz, dy: r.damping_counted}], name);
      assert.ok(cross[0].dx > 0 && cross[0].dy > 0, name);
      const before = plot.filter((d) => d.label.endsWith("as the case stands")), points = before.flatMap((d) => d.points), modes = r.modes.length > 0 ? r.modes : [r.nearest];
      assert.ok(points.length > 0, name);
      for (const p of points) assert.ok(modes.some((m) => m.ringing_frequency_hz === p.x && m.damping_ratio === p.y), name);
      const likeliest = r.mode || r.nearest;
      assert.ok(points.some((p) => p.x === likeliest.ringing_frequency_hz), `${name}: the likeliest is drawn`);
      const settled = plot.filter((d) => d.label.endsWith("with what is settled"));
      assert.deepEqual(settled.flatMap((d) => d.points.map((p) => [p.x, p.y])), r.mode_after ? [[r.mode_after.ringing_frequency_hz, r.mode_after.damping_ratio]] : [], name);
      for (const d of before) for (const s of settled) assert.notEqual(d.ground, s.ground, name);
      // All modes are in the table, and it opens from the keyboard.
      await page.locator(`#modes-${k} summary`).focus();
      await page.keyboard.press("Enter");
      await page.locator(`#modes-${k} tbody tr`).first().waitFor();
      assert.equal(await page.locator(`#modes-${k} tbody tr`).count(), 1 + modes.length + (r.mode_after ? 1 : 0), name);
    }
    assert.deepEqual(faults, [], name);
    await page.close();
  }
});

test("bars say how far each number is known before and after, the most first", async () => {
  const {page} = await open(browser, pages.bench);
  const {unknowns} = (await data(page)).calibrate;
  const rows = await page.locator(".known li").evaluateAll((all) => all.map((li) => {
    const [before, now] = [...li.querySelectorAll("rect")].map((r) => r.getBoundingClientRect()), middle = li.querySelector("path").getBoundingClientRect();
    const at = (b) => (b.left + b.right) / 2 - (middle.left + middle.right) / 2;
    return {key: li.querySelector(".key").textContent, before: before.width, now: now.width, moved: at(now), still: at(before)};
  }));
  assert.ok(rows.length > 5 && rows.length <= 24);
  for (const row of rows) {
    const u = unknowns.find((one) => one.key === row.key);
    assert.ok(Math.abs(row.now / row.before - u.after_error / u.before_error) < 0.05, row.key);
    assert.ok(Math.abs(2 * row.moved / row.before - (u.after - u.before) / u.before_error) < 0.06, row.key);
    assert.ok(Math.abs(row.still) < 1, row.key);
  }
  const left = rows.map((row) => unknowns.find((one) => one.key === row.key).narrowed);
  assert.deepEqual(left, [...left].sort((a, b) => a - b));
  await page.close();
});

test("the table of single changes has a row for each, and the verdict is the text's", async () => {
  const words = {bench: "EXPLAINED", read: "EXPLAINED", odd: "NOT EXPLAINED", far: "NOT EXPLAINED"};
  for (const [name, file] of Object.entries(pages)) {
    const {page} = await open(browser, file);
    const told = (await data(page)).calibrate, rows = await page.locator("#single tbody tr").evaluateAll((all) => all.map((r) => r.cells[1].querySelector(".key").textContent));
    assert.deepEqual(rows, told.single_changes.map((s) => s.key), name);
    assert.equal(await page.locator(".verdict strong").textContent(), words[name], name);
    await page.close();
  }
});

test("it is complete on paper, and comes back", async () => {
  const {page, faults} = await open(browser, pages.bench);
  const size = () => page.locator("#wave-1 canvas").evaluate((c) => [c.width, c.height]), before = await size(), file = join(folder, "bench.pdf");
  await page.pdf({path: file, preferCSSPageSize: true});
  const text = pdfText(file);
  for (const heading of await page.locator("main section:not([hidden]) h2, main h3").allTextContents()) assert.ok(text.includes(heading), heading);
  for (const words of ["Sign-off", "record and fit", "from later starts", "Impedance of", "Modes where", "device.capacitance.cds"]) assert.ok(text.includes(words), words);
  assert.equal(await page.locator("#appendix table").count(), 0);
  assert.deepEqual(await size(), before);
  assert.deepEqual(faults, []);
  await page.close();
});

test("axe-core finds no violation, every plot says what it shows, and nothing is wider than a phone", async () => {
  for (const [name, file] of Object.entries(pages))
    for (const width of [1200, 390]) {
      const {page} = await open(browser, file, {width});
      for (const figure of await page.locator("figure").all()) {
        assert.ok((await figure.locator("canvas").getAttribute("aria-label")).length > 40, name);
        assert.ok((await figure.locator("figcaption").textContent()).length > 40, name);
      }
      await page.evaluate(() => document.querySelectorAll("details").forEach((x) => { x.open = true; }));
      assert.ok(await page.evaluate(() => document.documentElement.scrollWidth) <= width, name);
      await page.evaluate(axe);
      const {violations, passes} = await page.evaluate(() => axe.run(document, {runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "best-practice"], resultTypes: ["violations"]}));
      assert.ok(passes.length > 20);
      assert.deepEqual(violations.map((v) => `${v.id}: ${v.nodes.map((n) => n.html).slice(0, 3).join(" ")}`), [], `${name} at ${width}`);
      await page.close();
    }
});
