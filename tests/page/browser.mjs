// What the page's tests and its screenshots share: pages made by the command, and a headless browser that refuses
// every request but the page's own file.
import {execFileSync, spawnSync} from "node:child_process";
import {existsSync, mkdtempSync, rmSync, writeFileSync} from "node:fs";
import {tmpdir} from "node:os";
import {join} from "node:path";
import {chromium} from "playwright-core";

export const command = process.env.RINGQUELL_COMMAND;
export const cases = process.env.RINGQUELL_CASES;

export const folder = mkdtempSync(join(tmpdir(), "ringquell-page-"));
process.on("exit", () => rmSync(folder, {recursive: true, force: true}));

/// Writes the page of a case; `changes` are --set arguments, `more` other ones.
export function makePage(file, name, {changes = [], more = []} = {}) {
  const out = join(folder, `${name}.html`);
  const made = spawnSync(command, ["report", file, "-o", out, ...changes.flatMap((c) => ["--set", c]), ...more],
    {encoding: "utf8", env: {...process.env, SOURCE_DATE_EPOCH: "1767323040"}});
  if (!existsSync(out)) throw new Error(`no page of ${file}: ${made.stderr}`);
  return out;
}

/// The page of two cases side by side.
export function makeComparison(a, b, name) {
  const out = join(folder, `${name}.html`);
  const made = spawnSync(command, ["compare", a, b, "-o", out], {encoding: "utf8", env: {...process.env, SOURCE_DATE_EPOCH: "1767323040"}});
  if (!existsSync(out)) throw new Error(`no page of ${a} and ${b}: ${made.stderr}`);
  return out;
}

/// The page of what records say: of a bench file, or of a case with `rings` as arguments.
export function makeCalibration(file, name, rings = []) {
  const out = join(folder, `${name}.html`);
  const made = spawnSync(command, ["calibrate", file, ...rings, "--page", out], {encoding: "utf8", env: {...process.env, SOURCE_DATE_EPOCH: "1767323040"}});
  if (!existsSync(out)) throw new Error(`no page of ${file}: ${made.stderr}`);
  return out;
}

export function caseFile(name, text) {
  const file = join(folder, `${name}.yaml`);
  writeFileSync(file, text);
  return file;
}

export async function launch() {
  const found = ["/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome"].find((f) => existsSync(f));
  if (!found) throw new Error("no Chromium; .ci/setup installs it");
  return chromium.launch({executablePath: found, args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync", "--font-render-hinting=none"]});
}

/// Notes every text that is drawn on a canvas with the box of its letters, in CSS pixels, until the canvas is cleared.
function noteDrawnText() {
  const drawn = new Map(), canvas = CanvasRenderingContext2D.prototype, {fillText, clearRect} = canvas;
  window.drawnText = drawn;
  canvas.fillText = function noted(text, x, y, ...more) {
    fillText.call(this, text, x, y, ...more);
    if (String(text).trim() === "") return;
    const m = this.measureText(text), t = this.getTransform(), ratio = window.devicePixelRatio;
    const corners = [[x - m.actualBoundingBoxLeft, y - m.actualBoundingBoxAscent], [x + m.actualBoundingBoxRight, y - m.actualBoundingBoxAscent],
      [x - m.actualBoundingBoxLeft, y + m.actualBoundingBoxDescent], [x + m.actualBoundingBoxRight, y + m.actualBoundingBoxDescent]]
      .map(([a, b]) => [(t.a * a + t.c * b + t.e) / ratio, (t.b * a + t.d * b + t.f) / ratio]);
    const xs = corners.map((c) => c[0]), ys = corners.map((c) => c[1]);
    if (!drawn.has(this.canvas)) drawn.set(this.canvas, []);
    drawn.get(this.canvas).push({text: String(text), left: Math.min(...xs), right: Math.max(...xs), top: Math.min(...ys), bottom: Math.max(...ys)});
  };
  canvas.clearRect = function cleared(x, y, width, height) {
    clearRect.call(this, x, y, width, height);
    if (x <= 0 && y <= 0 && width >= this.canvas.width && height >= this.canvas.height) drawn.set(this.canvas, []);
  };
}

/// Every plot and drawing with the boxes of its texts and its own size: {name, width, height, texts}.
export const textsOfPlots = (page) => page.evaluate(() => {
  const canvases = [...document.querySelectorAll("main canvas")].map((c) => ({name: c.id, width: c.getBoundingClientRect().width, height: c.getBoundingClientRect().height,
    texts: window.drawnText.get(c) || []}));
  const drawings = [...document.querySelectorAll("main svg[role=img]")].map((s) => {
    const box = s.getBoundingClientRect();
    return {name: s.id || s.querySelector("title").id, width: box.width, height: box.height, texts: [...s.querySelectorAll("text")].map((t) => {
      const b = t.getBoundingClientRect();
      return {text: t.textContent, left: b.left - box.left, right: b.right - box.left, top: b.top - box.top, bottom: b.bottom - box.top};
    })};
  });
  return [...canvases, ...drawings];
});

/// A page that notes everything it must not do.
export async function open(browser, file, {width = 1000, height = 900} = {}) {
  const page = await browser.newPage({viewport: {width, height}});
  await page.addInitScript(noteDrawnText);
  const faults = [];
  page.on("console", (m) => { if (m.type() === "error" || m.type() === "warning") faults.push(`console: ${m.text()}`); });
  page.on("pageerror", (e) => faults.push(`error: ${e.message}`));
  page.on("dialog", async (d) => { faults.push(`dialog: ${d.message()}`); await d.dismiss(); });
  await page.route("**/*", (route) => {
    const url = route.request().url();
    if (url === `file://${file}` || url.startsWith("data:")) return route.continue();
    faults.push(`request: ${url}`);
    return route.abort();
  });
  const begin = performance.now();
  await page.goto(`file://${file}`, {waitUntil: "load"});
  // Two frames after loading everything is drawn.
  await page.evaluate(() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done))));
  return {page, faults, milliseconds: performance.now() - begin};
}

export function pdfText(file) {
  return execFileSync("pdftotext", ["-layout", file, "-"], {encoding: "utf8", maxBuffer: 1 << 26});
}
