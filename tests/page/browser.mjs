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

/// A page that notes everything it must not do.
export async function open(browser, file, {width = 1000, height = 900} = {}) {
  const page = await browser.newPage({viewport: {width, height}});
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
