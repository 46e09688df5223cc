// The strip of stills in the knitter's guide: a newcomer's way on a phone, from an empty workspace to an accepted plan.
// `node stills.mjs PATH_TO_PROGRAM [FILE.svg]` goes the way and writes what was seen.
import { spawn, execFileSync } from "node:child_process";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { dirname, join, resolve as whole } from "node:path";
import { fileURLToPath } from "node:url";
import { chromium } from "playwright-core";
import { fingers, newcomer, planned } from "./newcomer.mjs";

const program = whole(process.argv[2] ?? "../../target/debug/oddments");
const file = process.argv[3] ?? join(dirname(fileURLToPath(import.meta.url)), "../../fixtures/demo/first-evening.svg");
// Each still: what is seen, in a few words below it.
const STILLS = [
  ["begin", "An empty folder: begin with a ball"], ["yarn", "What is wrong is said in its place"], ["swatch", "The swatch, as it is measured"],
  ["remnant", "The ball on the scale"], ["person", "Whom it is for"], ["knit", "Each step shows what it gave"],
  ["row 20", "At the machine, row 20"], ["plan", "A plan, to be accepted"],
];
const [WIDE, HIGH, SHARE] = [390, 700, 0.62];

const folder = mkdtempSync(join(tmpdir(), "stills-"));
const workspace = join(folder, "light");
execFileSync(program, ["init", workspace]);
const server = spawn(program, ["serve", "--listen", "127.0.0.1:0", "--workspace", workspace], { stdio: ["ignore", "pipe", "inherit"] });
const base = await new Promise((resolve) => server.stdout.on("data", (text) => { const found = /http:\S+/.exec(text); if (found) resolve(found[0]); }));
const browser = await chromium.launch({ executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium", args: ["--headless", "--no-sandbox", "--disable-gpu"] });
const seen = new Map();
try {
  const context = await browser.newContext({ viewport: { width: WIDE, height: HIGH }, hasTouch: true, isMobile: true, colorScheme: "light" });
  const page = await context.newPage();
  const look = async (name) => {
    await page.evaluate(() => {
      document.activeElement?.blur();
      // What is next is in sight; elsewhere the top of the page.
      const next = document.querySelector("[aria-current=step]");
      if (next && next.getBoundingClientRect().bottom > innerHeight) next.scrollIntoView({ block: "end" });
      else scrollTo(0, 0);
    });
    // Pictures are part of what is seen.
    await page.evaluate(() => { for (const image of document.images) image.loading = "eager"; });
    await page.waitForFunction(() => [...document.images].every((image) => image.complete), null, { timeout: 60000 });
    seen.set(name, await page.screenshot());
  };
  await newcomer(page, base, fingers(page), look);
  await planned(page, fingers(page), look);
  // Made small by the browser itself.
  const blank = await context.newPage();
  const small = (png) => blank.evaluate(async ([data, share]) => {
    const image = new Image();
    image.src = `data:image/png;base64,${data}`;
    await image.decode();
    const canvas = document.createElement("canvas");
    [canvas.width, canvas.height] = [image.width, image.height].map((px) => Math.round(px * share));
    const flat = canvas.getContext("2d");
    flat.imageSmoothingQuality = "high";
    flat.drawImage(image, 0, 0, canvas.width, canvas.height);
    return canvas.toDataURL("image/webp", 0.6);
  }, [png.toString("base64"), SHARE]);
  const [wide, high, gap, words] = [Math.round(WIDE * SHARE), Math.round(HIGH * SHARE), 16, 30];
  const columns = STILLS.length / 2;
  const parts = [];
  for (const [nth, [name, told]] of STILLS.entries()) {
    const [x, y] = [gap + (nth % columns) * (wide + gap), gap + Math.floor(nth / columns) * (high + words + gap)];
    parts.push(`<image x="${x}" y="${y}" width="${wide}" height="${high}" href="${await small(seen.get(name))}"/>
<rect x="${x}" y="${y}" width="${wide}" height="${high}" fill="none" stroke="#8a8577"/>
<text x="${x}" y="${y + high + 20}" font-size="14" fill="#1f262b">${nth + 1}. ${told}</text>`);
  }
  const all = [gap + columns * (wide + gap), gap + 2 * (high + words + gap)];
  const about = STILLS.map(([, told], nth) => `${nth + 1}. ${told}.`).join(" ");
  const svg = `<svg xmlns="http://www.w3.org/2000/svg" width="${all[0]}" height="${all[1]}" viewBox="0 0 ${all[0]} ${all[1]}" role="img" font-family="'Noto Sans', sans-serif">
<title>From an empty folder to an accepted plan, on a phone</title>
<desc>Eight stills. ${about}</desc>
<rect width="100%" height="100%" fill="#f6f3ea"/>
${parts.join("\n")}
</svg>
`;
  writeFileSync(file, svg);
  console.log(`${file}: ${svg.length} bytes`);
} finally {
  await browser.close();
  server.kill("SIGTERM");
  rmSync(folder, { recursive: true, force: true });
}
