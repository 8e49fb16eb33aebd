// Pictures of both demonstration pages for the README: verdict, drawing, path and map. Usage: screenshots.mjs FOLDER
import {join} from "node:path";
import {cases, launch, makePage, open} from "./browser.mjs";

const [out] = process.argv.slice(2);
const browser = await launch();
for (const name of ["ropeway-first", "ropeway-cured"]) {
  const {page} = await open(browser, makePage(join(cases, `${name}.yaml`), name), {width: 860});
  await page.addStyleTag({content: "main > section:not(#verdict):not(#to-do):not(#network):not(#path):not(#plane), nav, footer, #network > :not(h2):not(:nth-child(3)) { display: none; }"});
  await page.screenshot({path: join(out, `page-${name}.png`), fullPage: true});
  await page.close();
}
await browser.close();
