// The pages in a real browser, against the program as built: `node run.mjs PATH_TO_PROGRAM`.
// Ends with 1 where anything is not as it should be. `ONLY=words` goes through the tests that have them in their names.
import { spawn, execFileSync } from "node:child_process";
import assert from "node:assert/strict";
import { createRequire } from "node:module";
import { readFileSync, mkdirSync, mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve as whole } from "node:path";
import { chromium } from "playwright-core";
import { desk } from "./desk.mjs";
import { newcomer, planned, keys, fingers } from "./newcomer.mjs";
import { weigh } from "./weigh.mjs";
import { turned } from "./turned.mjs";

const require = createRequire(import.meta.url);
const AXE = readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");
const program = whole(process.argv[2] ?? "../../target/debug/oddments");
const shots = process.argv[3];
const SIZES = { phone: [390, 844], tablet: [820, 1180], desktop: [1280, 900] };

const folder = mkdtempSync(join(tmpdir(), "skerry-"));
const workspace = join(folder, "light");
execFileSync(program, ["init", workspace, "--demo"]);
// The addresses that this run serves: no other is to be asked.
const bases = [];
const serve = (...more) => serveIn(workspace, ...more);
const serveIn = (folder, ...more) => {
  const server = spawn(program, ["serve", "--listen", "127.0.0.1:0", "--workspace", folder, ...more], { stdio: ["ignore", "pipe", "inherit"] });
  const base = new Promise((resolve, reject) => {
    let text = "";
    server.stdout.on("data", (chunk) => {
      text += chunk;
      const found = /http:\S+/.exec(text);
      if (found) {
        bases.push(found[0]);
        resolve(found[0]);
      }
    });
    server.on("exit", () => reject(new Error("the server ended")));
  });
  const stopped = new Promise((resolve) => server.on("exit", resolve));
  return { server, base, stopped };
};
const main = serve();
const base = await main.base;
const browser = await chromium.launch({
  executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
  // What is turned in the round is drawn by software here; pages are not, which no machine would do either.
  args: ["--headless", "--no-sandbox", "--enable-unsafe-swiftshader", "--use-angle=swiftshader", "--ignore-gpu-blocklist", "--disable-gpu-rasterization", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync"],
});
let failed = false;
const strangers = [];
const faults = [];
const open = async (size = "desktop", more = {}) => {
  const [width, height] = SIZES[size];
  // The audit is put into the page by the test, which the pages' own policy would forbid.
  const context = await browser.newContext({ viewport: { width, height }, acceptDownloads: true, ...more });
  // Side by side on a busy machine an answer may be long in coming: that is no fault of it.
  context.setDefaultTimeout(90_000);
  const page = await context.newPage();
  // Of this page alone: where a line is cut on purpose its own complaints are none.
  const own = [];
  faults.push(own);
  page.on("request", (request) => {
    const url = request.url();
    if (!bases.some((own) => url.startsWith(own)) && !url.startsWith("data:") && !url.startsWith("blob:")) strangers.push(url);
  });
  page.on("pageerror", (error) => own.push(String(error)));
  page.on("console", (message) => {
    const text = message.text();
    // The answer for a piece not begun, or moved by another device, is no fault of the page.
    if (message.type() === "error" && !/status of (404|409)/.test(text)) own.push(text);
  });
  return { context, page, faults: own };
};
// Tests are gathered, and gone through side by side. `alone`: it tells times. `writes`: it changes the workspace that
// all share, one after the other. `last`: it looks at every page, after what moves them.
const gathered = [];
const test = (name, body, how = "") => {
  if (name.includes(process.env.ONLY ?? "")) gathered.push({ name, body, how });
};
const gone = async ({ name, body }) => {
  const begun = Date.now();
  const lines = [];
  try {
    await body((line) => lines.push(`      ${line}\n`));
    console.log(`${lines.join("")}ok    ${name} (${Date.now() - begun} ms)`);
  } catch (error) {
    failed = true;
    console.log(`${lines.join("")}FAILS ${name}\n${error.stack}`);
  }
};
const lane = async (list) => { for (let one = list.shift(); one; one = list.shift()) await gone(one); };
const LANES = Number(process.env.LANES ?? 2);
const goThrough = async () => {
  const of = (how) => gathered.filter((one) => one.how === how);
  await lane(of("alone"));
  const others = of("");
  await Promise.all([lane(of("writes")).then(() => lane(others)), ...Array.from({ length: LANES - 1 }, () => lane(others))]);
  const last = of("last");
  await Promise.all(Array.from({ length: LANES }, () => lane(last)));
};
const text = (page, selector) => page.locator(selector).innerText();

test("a change of an option shows at once, and the address says it", async () => {
  const { context, page } = await open();
  await page.goto(`${base}/grade?garment=tam&sizes=women`);
  const before = await text(page, "#result");
  await page.locator("#o-wedges").fill("8");
  await page.waitForFunction((old) => document.querySelector("#result").innerText !== old, before);
  await page.waitForFunction(() => location.search.includes("o.wedges=8"));
  const after = await text(page, "#result");
  await page.reload();
  assert.equal(await text(page, "#result"), after, "the link does not give the same run");
  await page.locator("#o-wedges").fill("banana");
  await page.getByText("is not a whole number").waitFor();
  await page.locator("#o-wedges").fill("");
  await page.getByText("Beside it, or several sizes").click();
  await page.locator("#range").fill("y4..y9-10");
  await page.waitForFunction(() => document.querySelector("#result").innerText.includes("7-8"));
  await page.locator("input[value=in]").check();
  await page.waitForURL(/units=in/);
  assert.match(await text(page, "#result"), /Finished sizes, in/);
  await page.locator("#garment").selectOption("hat");
  await page.waitForURL(/garment=hat/);
  assert.match(await text(page, "#result h2"), /hat/i);
  await context.close();
});

const picture = (page) => page.locator("#worn svg").evaluate((svg) => svg.innerHTML);

// How long it takes from a change of what is slid to the next frame with what came of it.
const slidBy = (page, slider, steps) => page.locator(slider).evaluate((slide, steps) => new Promise((resolve) => {
  const begun = performance.now();
  new MutationObserver((changes, own) => {
    // The garment in the round is put into its place when it comes.
    if (changes.every(({ target }) => target.parentElement?.closest("#round") || target.id === "round")) return;
    own.disconnect();
    requestAnimationFrame(() => resolve(performance.now() - begun));
  }).observe(document.getElementById("result"), { childList: true, subtree: true });
  slide.value = Number(slide.value) + steps * Number(slide.step);
  slide.dispatchEvent(new Event("input", { bubbles: true }));
}), steps);

test("the picture, the sizes and the grams follow a slider", async (tell) => {
  const { context, page } = await open();
  for (const [garment, slider] of [["tam", "#o-band_rows-slide"], ["sock", "#o-ease-slide"], ["pullover", "#o-length-slide"]]) {
    await page.goto(`${base}/grade?garment=${garment}&sizes=women-m`);
    const before = await page.evaluate(() => document.querySelector(".facts").innerText);
    const seen = await picture(page);
    const entries = await page.evaluate(() => history.length);
    const took = [await slidBy(page, slider, 4)];
    assert.notEqual(await page.evaluate(() => document.querySelector(".facts").innerText), before, `${garment}: the figures stand still`);
    assert.notEqual(await picture(page), seen, `${garment}: the picture stands still`);
    assert.match(page.url(), /o\.(ease|length|band_rows)=/);
    assert.equal(await page.evaluate(() => history.length), entries, "sliding fills the history");
    for (const steps of [1, 1, -1, -1, 1]) took.push(await slidBy(page, slider, steps));
    const start = [];
    for (let n = 0; n < 5; n += 1) start.push(await slidBy(page, "#start-slide", 3));
    const told = (all) => all.map((ms) => Math.round(ms)).join(", ");
    tell(`${garment}: ${told(took)} ms from slider to picture; ${told(start)} ms from the ball's start to the stripes`);
  }
  await context.close();
}, "alone");

test("the start of the ball is dragged, and the stripes move", async () => {
  for (const size of ["desktop", "phone"]) {
    const { context, page } = await open(size);
    await page.goto(`${base}/grade?garment=mitten&sizes=y7-8`);
    const slide = page.locator("#start-slide");
    await slide.scrollIntoViewIfNeeded();
    const box = await slide.boundingBox();
    const seen = new Set([await picture(page)]);
    await page.mouse.move(box.x + 10, box.y + box.height / 2);
    await page.mouse.down();
    for (const share of [0.2, 0.4, 0.6, 0.8]) {
      await page.mouse.move(box.x + box.width * share, box.y + box.height / 2, { steps: 4 });
      const last = [...seen].at(-1);
      await page.waitForFunction((old) => document.querySelector("#worn svg").innerHTML !== old, last);
      seen.add(await picture(page));
      // The picture stays in sight while it is dragged.
      // Asked in one breath: between two questions the next answer may take its place.
      const at = await page.evaluate(() => document.querySelector("#worn").getBoundingClientRect().toJSON());
      assert.ok(at.height > 0 && at.bottom > 0 && at.top < page.viewportSize().height, `${size}: the picture is out of sight`);
    }
    await page.mouse.up();
    assert.ok(seen.size >= 5, `only ${seen.size} pictures were seen`);
    await page.waitForFunction(() => /start=/.test(location.search));
    const typed = await page.locator("#start").inputValue();
    // The keyboard does the same.
    const last = await picture(page);
    await slide.focus();
    for (let i = 0; i < 8; i += 1) await page.keyboard.press("ArrowLeft");
    await page.waitForFunction((old) => document.querySelector("#worn svg").innerHTML !== old, last);
    assert.ok(Number(await page.locator("#start").inputValue()) < Number(typed));
    await page.waitForFunction(() => new URLSearchParams(location.search).get("start") === document.getElementById("start").value);
    const now = await picture(page);
    await page.reload();
    assert.equal(await picture(page), now, "the link does not give the same picture");
    await context.close();
  }
});

test("two sizes stand side by side, and one above the other on a phone", async () => {
  const places = async (page) => {
    const boxes = [];
    for (const one of await page.locator(".one .worn").all()) boxes.push(await one.boundingBox());
    return boxes;
  };
  for (const size of ["desktop", "phone"]) {
    const { context, page } = await open(size);
    await page.goto(`${base}/grade?garment=sock&sizes=y7-8`);
    await page.getByText("Beside it, or several sizes").click();
    await page.locator("#beside").selectOption("men-xl");
    await page.locator(".one").nth(1).waitFor();
    const [one, other] = await places(page);
    if (size === "desktop") assert.ok(Math.abs(one.y - other.y) < 40 && other.x > one.x + one.width / 2, "they are not side by side");
    else assert.ok(other.y > one.y + one.height, "they are not one above the other");
    await context.close();
  }
});

test("results are downloaded as the commands write them", async () => {
  const { context, page } = await open();
  await page.goto(`${base}/grade?garment=cuff&sizes=women-m`);
  for (const label of ["CSV", "JSON", "Markdown"]) {
    const [file] = await Promise.all([
      page.waitForEvent("download"),
      page.locator(".take a", { hasText: label }).first().click(),
    ]);
    assert.match(file.suggestedFilename(), /^cuff\.(csv|json|md)$/);
    assert.ok(readFileSync(await file.path()).length > 100);
  }
  await context.close();
});

test("a pattern is downloaded as a PDF that can be read", async () => {
  const { context, page } = await open();
  await page.goto(`${base}/grade?garment=tam&sizes=women-m`);
  const [file] = await Promise.all([
    page.waitForEvent("download"),
    page.locator(".take a", { hasText: "PDF" }).click(),
  ]);
  assert.equal(file.suggestedFilename(), "tam-pattern.pdf");
  const words = execFileSync("pdftotext", ["-layout", await file.path(), "-"], { encoding: "utf8" });
  const finished = await page.locator("#result tbody td").first().innerText();
  for (const word of ["Women M", "Cast on", "row counter", finished]) assert.ok(words.includes(word), `the PDF lacks ${word}`);
  await context.close();
}, "alone");

test("a remnant is added, weighed and taken back; what is wrong is said and kept", async () => {
  const { context, page } = await open("phone");
  await page.goto(`${base}/gifts/stash`);
  await page.getByText("Add a remnant").click();
  await page.locator("#s-yarn").selectOption("tide");
  await page.locator("#s-weight").fill("twelve");
  await page.getByRole("button", { name: "Add the remnant" }).click();
  await page.locator(".fault").first().waitFor();
  assert.equal(await page.locator("#s-weight").inputValue(), "twelve");
  await page.locator("#s-weight").fill("12 g");
  await page.getByRole("button", { name: "Add the remnant" }).click();
  await page.getByText("Added.").waitFor();
  await page.getByRole("button", { name: "Take back: stash add" }).click();
  await page.getByText("Taken back.").waitFor();
  await page.getByRole("button", { name: "Do again: stash add" }).waitFor();
  await context.close();
}, "writes");

test("a plan is run, watched, read and accepted, and taken back", async () => {
  const { context, page } = await open("tablet");
  await page.goto(`${base}/gifts/plan`);
  await page.locator("#today").fill("2026-09-01");
  await page.getByRole("button", { name: "Make a plan" }).click();
  const made = page.getByRole("heading", { name: /of 31 gifts can be made/ });
  // A plan that is proven at once is there before anybody watches.
  await page.getByRole("heading", { name: "Planning" }).or(made).waitFor();
  // A slow machine takes the best so far.
  await made.waitFor({ timeout: 20000 }).catch(() => page.getByRole("button", { name: "Stop, and take the best so far" }).click());
  await made.waitFor({ timeout: 60000 });
  assert.ok((await page.locator("ol.plan > li").count()) >= 20, "few gifts are made");
  assert.match(await text(page, "ol.plan > li:first-child"), /g of [a-z-]+\d/);
  await page.getByRole("button", { name: "Accept: set the yarn aside" }).click();
  await page.getByText("Accepted: the yarn is set aside.").waitFor();
  assert.ok((await page.locator("#aside tbody tr").count()) >= 20);
  await page.getByRole("button", { name: "Take back: plan accept" }).click();
  await page.getByText("Nothing is set aside yet").waitFor();
  await context.close();
}, "writes");

test("a list is filtered and an entry changed in its place, without scripts", async () => {
  const { context, page } = await open("phone", { javaScriptEnabled: false });
  await page.goto(`${base}/gifts/stash`);
  await page.locator("#f-yarn").selectOption("slate");
  await page.getByRole("button", { name: "Show", exact: true }).click();
  const ids = await page.locator(".row").evaluateAll((rows) => rows.map((row) => row.id));
  assert.ok(ids.length > 0 && ids.every((id) => id.startsWith("e-slate")), ids.join(" "));
  await page.getByRole("link", { name: "Change slate-1" }).click();
  await page.locator("#c-lot").fill("K7");
  await page.getByRole("button", { name: "Save the change" }).click();
  await page.getByText("Changed.").waitFor();
  assert.equal(await page.locator("#f-yarn").inputValue(), "slate", "the filter is forgotten");
  assert.match(await text(page, "#e-slate-1"), /K7/);
  await page.getByRole("button", { name: /^Take back: stash change/ }).click();
  await page.getByText("Taken back.").waitFor();
  await context.close();
}, "writes");

test("a finished piece that was noted wrong is put right, and that is taken back", async () => {
  const { context, page } = await open("phone");
  await page.goto(`${base}/gifts/records`);
  await page.locator("#records td a").first().click();
  await page.locator("#after-1").fill("0,5");
  await page.getByRole("button", { name: "Save" }).click();
  await page.getByText("Changed.").waitFor();
  await page.getByRole("button", { name: "Take back: record change" }).click();
  await page.getByText("Taken back.").waitFor();
  await context.close();
}, "writes");

test("a plan leads to the machine, with the person and the yarn", async () => {
  const { context, page } = await open("phone");
  const begun = await (await page.request.post(`${base}/api/v1/plans`, { data: { today: "2026-09-01", work: 4 } })).json();
  await page.goto(`${base}/gifts/plan/${begun.id}`);
  await page.getByRole("heading", { name: /gifts can be made/ }).waitFor({ timeout: 60000 });
  assert.ok((await page.locator("#shelf .bar").count()) > 5, "no shelf");
  assert.ok((await page.locator("#weeks li").count()) > 3, "no calendar");
  await page.getByRole("link", { name: /^To the machine/ }).click();
  await page.locator("#walk.live").waitFor();
  assert.match(page.url(), /person=/);
  assert.match(page.url(), /ball=/);
  await context.close();
}, "writes");

test("the pages stand in few lines over each other, on every width", async () => {
  const { context, page } = await open();
  for (const width of [320, 390, 480, 540, 600, 700, 820, 1024, 1280]) {
    await page.setViewportSize({ width, height: 900 });
    await page.goto(`${base}/gifts/stash`);
    const tall = await page.locator("header.top").evaluate((top) => top.getBoundingClientRect().height);
    assert.ok(tall <= 210, `at ${width} px the top is ${tall} px tall`);
    const wide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
    assert.ok(wide <= 0, `at ${width} px it is ${wide} px too wide`);
  }
  await context.close();
});

test("a phone that comes by the code is let in, and the token stays out of the address", async () => {
  const token = "kittiwake & fulmar";
  const own = serve("--token", token);
  const at = await own.base;
  const context = await browser.newContext({ viewport: { width: 390, height: 844 } });
  const page = await context.newPage();
  await page.goto(`${at}/login#token=kittiwake+%26+fulmar`);
  await page.getByRole("button", { name: "Log out" }).waitFor();
  assert.ok(!page.url().includes("kittiwake"), page.url());
  // A wrong one is sent once, and told to be wrong.
  const other = await browser.newContext();
  const wrong = await other.newPage();
  await wrong.goto(`${at}/login#token=guillemot+and+razorbill`);
  await wrong.getByText("that is not the token").waitFor();
  await other.close();
  await context.close();
  own.server.kill("SIGTERM");
  await own.stopped;
});

test("pages seen once are followed after the server is gone, a reload included", async () => {
  const own = serve();
  const at = await own.base;
  const context = await browser.newContext({ viewport: { width: 820, height: 1180 } });
  const page = await context.newPage();
  const url = `${at}/machine?garment=cuff&sizes=women-m`;
  await page.goto(url);
  await page.waitForFunction(() => navigator.serviceWorker.ready.then(() => true));
  // Seen once under the keeper of pages.
  await page.reload();
  await page.locator("#walk.live").waitFor();
  for (let i = 0; i < 3; i += 1) await page.locator("#tick").click();
  own.server.kill("SIGTERM");
  await own.stopped;
  await page.locator("#tick").click();
  await page.reload();
  await page.locator("#walk.live").waitFor();
  await page.waitForFunction(() => document.querySelector("#done").textContent.includes("step 4 "));
  await page.keyboard.press(" ");
  await page.waitForFunction(() => document.querySelector("#done").textContent.includes("step 5 "));
  await context.close();
});

test("whoever logs out leaves no page behind, and no row is lost", async () => {
  const token = "kittiwake and fulmar";
  const own = serve("--token", token);
  const at = await own.base;
  const context = await browser.newContext({ viewport: { width: 390, height: 844 } });
  const page = await context.newPage();
  const logIn = async () => {
    await page.locator("#token").fill(token);
    await page.getByRole("button", { name: "Go on" }).click();
  };
  const kept = () => page.evaluate(async () => {
    const urls = [];
    for (const name of await caches.keys()) for (const one of await (await caches.open(name)).keys()) urls.push(one.url);
    return urls.filter((url) => !/\/(login|assets\/.*)$/.test(url.split("?")[0]));
  });
  const url = `${at}/machine?garment=sock&sizes=women-m`;
  await page.goto(url);
  assert.equal(await page.getByRole("button", { name: "Log out" }).count(), 0, "there is nothing to log out of");
  await logIn();
  await page.waitForFunction(() => navigator.serviceWorker.ready.then(() => true));
  await page.reload();
  await page.locator("#walk.live").waitFor();
  // A row that could not be sent.
  await page.route("**/api/v1/places/*", (route) => (route.request().method() === "PUT" ? route.abort() : route.continue()));
  await page.locator("#tick").click();
  await page.getByText("this device keeps the place").waitFor();
  assert.ok((await kept()).length > 0, "no page is kept");
  await page.goto(`${at}/gifts`);
  await page.getByRole("button", { name: "Log out" }).click();
  await page.waitForURL(/\/login$/);
  assert.deepEqual(await kept(), []);
  assert.deepEqual(await context.cookies(), []);
  const unsent = await page.evaluate(() => Object.entries(localStorage).filter(([key, text]) => key.startsWith("oddments.place.") && JSON.parse(text).unsaved));
  assert.equal(unsent.length, 1, "the row is lost");
  await page.unroute("**/api/v1/places/*");
  // Back at the machine, the row goes out.
  await page.goto(url);
  await logIn();
  await page.locator("#walk.live").waitFor();
  const id = await page.locator("#walk").getAttribute("data-place");
  await page.waitForFunction(async (path) => {
    const answer = await fetch(path);
    return answer.ok && (await answer.json()).stop === 1;
  }, `/api/v1/places/${id}`);
  // A page that was loaded past the keeper of pages.
  assert.ok((await kept()).length > 0, "no page is kept");
  await page.evaluate(async () => { for (const one of await navigator.serviceWorker.getRegistrations()) await one.unregister(); });
  await page.goto(`${at}/garments`);
  await page.getByRole("button", { name: "Log out" }).click();
  await page.waitForURL(/\/login$/);
  assert.deepEqual(await kept(), []);
  await context.close();
  own.server.kill("SIGTERM");
  await own.stopped;
});

test("thirty rows are followed with a reload in the middle, by space and by pedal", async () => {
  const { context, page } = await open("tablet");
  await page.goto(`${base}/machine?garment=tam&sizes=women-m`);
  await page.locator("#walk.live").waitFor();
  const walk = await (await page.request.get(`${base}/api/v1/walk?garment=tam&sizes=women-m`)).json();
  let at = 0;
  const matches = async () => {
    const stop = walk.stops[at];
    const shown = stop.piece === null ? "---" : String(stop.counter[0]).padStart(3, "0");
    assert.equal(await text(page, "#counter"), shown, `at step ${at}`);
    if (stop.piece !== null) assert.equal(await text(page, "#side"), stop.carriage[0]);
    const now = await text(page, "#now");
    for (const deed of stop.deeds) assert.ok(now.includes(deed.text), `${now} lacks ${deed.text}`);
    if (stop.pass) assert.ok(now.includes(stop.pass.text));
  };
  const rowsDone = () => walk.stops[at].rows[0];
  while (rowsDone() < 30) {
    await matches();
    // What changes is seen first.
    if (walk.stops[at].changes.length > 0) await page.keyboard.press("PageDown");
    await page.keyboard.press(at % 2 ? "PageDown" : " ");
    at += 1;
    if (rowsDone() === 15 && walk.stops[at - 1].rows[0] === 14) {
      await page.reload();
      await page.locator("#walk.live").waitFor();
    }
  }
  await matches();
  // A held pedal is one step, the button one, back one, rip back two rows.
  await page.locator("#tick").click();
  at += 1;
  await matches();
  await page.locator("#back").click();
  at -= 1;
  await matches();
  await page.getByText("Sound, voice, letters, rip back").click();
  await page.locator("#rip-rows").fill("2");
  await page.locator("#rip button").click();
  const target = rowsDone() - 2;
  at = walk.stops.findIndex((stop) => stop.piece === walk.stops[at].piece && stop.rows[0] >= target);
  await matches();
  await context.close();
});

test("two devices see the same place, and a dead server stops nobody", async () => {
  const one = await open("phone");
  const two = await open("tablet");
  const url = `${base}/machine?garment=hat&sizes=y5-6`;
  await one.page.goto(url);
  await one.page.locator("#walk.live").waitFor();
  // Five steps, and one press more where the yarn changes.
  for (let i = 0; i < 6; i += 1) await one.page.locator("#tick").click();
  await two.page.goto(url);
  await two.page.locator("#walk.live").waitFor();
  await two.page.waitForFunction(() => document.querySelector("#done").textContent.includes("step 5 "));
  await two.page.locator("#tick").click();
  await one.page.waitForFunction(() => document.querySelector("#done").textContent.includes("step 6 "), null, { timeout: 8000 });
  await one.context.setOffline(true);
  await one.page.locator("#tick").click();
  await one.page.waitForFunction(() => document.querySelector("#done").textContent.includes("step 7 "));
  one.faults.length = 0; // the browser complains of the line that was cut on purpose
  await one.context.setOffline(false);
  await two.page.waitForFunction(() => document.querySelector("#done").textContent.includes("step 7 "), null, { timeout: 10000 });
  one.faults.length = 0;
  await one.context.close();
  await two.context.close();
});

test("everything is reached from the keyboard, with the focus to be seen", async () => {
  const { context, page } = await open();
  await page.goto(`${base}/grade?garment=tam&sizes=women-m`);
  await page.keyboard.press("Tab");
  assert.equal(await page.evaluate(() => document.activeElement.className), "skip");
  const seen = new Set();
  for (let i = 0; i < 110; i += 1) {
    const here = await page.evaluate(() => {
      const e = document.activeElement;
      const style = getComputedStyle(e);
      return { name: e.id || e.getAttribute("href") || e.name || e.tagName, folded: e.matches(".what summary"), outline: style.outlineStyle, width: parseFloat(style.outlineWidth) };
    });
    if (here.name !== "BODY" && here.name !== "main") {
      assert.notEqual(here.outline, "none", `${here.name} shows no focus`);
      assert.ok(here.width >= 2, `${here.name} shows a thin focus`);
    }
    seen.add(here.name);
    // What is folded up opens with a key.
    if (here.folded) await page.keyboard.press("Enter");
    await page.keyboard.press("Tab");
  }
  for (const name of ["garment", "sizes", "machine", "theme", "range"]) assert.ok(seen.has(name), `${name} is not reached`);
  await context.close();
});

test("without scripts the forms and the steps still work", async () => {
  const { context, page } = await open("phone", { javaScriptEnabled: false });
  await page.goto(`${base}/grade?garment=tam&sizes=women-m`);
  await page.locator("#garment").selectOption("cuff");
  await page.locator("button[type=submit]").click();
  assert.match(await text(page, "#result h2"), /cuff/i);
  const before = await picture(page);
  await page.locator("#start").fill("1.5");
  await page.locator("button[type=submit]").click();
  assert.notEqual(await picture(page), before, "the stripes stand still");
  await page.goto(`${base}/machine?garment=tam&sizes=men-l`);
  await page.locator("#tick").click();
  assert.match(await text(page, "#done"), /step 1 of/);
  await context.close();
});

desk({ test, open, base, text });
turned({ test, open, base, text });
const emptyWorkspace = (name) => {
  const own = join(folder, name);
  execFileSync(program, ["init", own]);
  return own;
};

const WIDE = { width: 844, height: 390 };
for (const [by, how, hand, size, more] of [
  ["the keyboard", "keys", keys, "desktop", {}],
  ["the keyboard", "keys-wide", keys, "desktop", { viewport: WIDE }],
  ["touch", "touch", fingers, "phone", { hasTouch: true, isMobile: true }],
  ["touch", "touch-wide", fingers, "phone", { viewport: WIDE, hasTouch: true, isMobile: true }],
]) {
  const [width, height] = more.viewport ? [WIDE.width, WIDE.height] : SIZES[size];
  test(`a newcomer comes from an empty folder to row 20 of a mitten and to an accepted plan by ${by} alone, ${width} x ${height}`, async () => {
    const own = serveIn(emptyWorkspace(how));
    const { context, page } = await open(size, more);
    const moves = hand(page);
    await newcomer(page, await own.base, moves);
    await planned(page, moves);
    await context.close();
    own.server.kill("SIGTERM");
    await own.stopped;
  });
}

const PAGES = ["/grade?garment=tam", "/grade?garment=sock&sizes=y7-8&beside=men-xl", "/grade/close?garment=mitten&sizes=m6-12",
  "/grade?garment=tam&sizes=women", "/grade?garment=tam&o.wedges=banana", "/machine",
  "/machine?garment=tam&sizes=women-m&at=40", "/machine?garment=sock&sizes=women-m&at=29", "/machine/finish?garment=tam&sizes=women-m",
  "/reach?garment=tam&sizes=women-m&weight=34", "/swatch?yarn=400+m%2F100+g&plain.stitches=40&plain.widths=14.1%2C14.4&plain.rows=60&plain.heights=15.1",
  "/chart?garment=tam", "/techniques", "/carry-on?garment=tam&sizes=women-m&stands=hat:212&now.plain=29x41",
  "/start", "/yarns", "/yarns/tide", "/new/yarn", "/swatches", "/swatch?edit=standard", "/remnants", "/remnants/shoreline-1",
  "/new/remnant", "/people", "/people/Morwen", "/new/person", "/knitters", "/new/knitter", "/settings",
  "/gifts", "/gifts/stash", "/gifts/stash?edit=shoreline-1&sort=-weight", "/gifts/people?edit=Ruan", "/gifts/wishes?edit=ruan-tam",
  "/gifts/plan", "/gifts/records", "/gifts/shop", "/phone", "/learnt", "/garments", "/garments/tam", "/login", "/nowhere"];
// A finished piece is known by what it says.
const records = await (await fetch(`${base}/gifts/records`)).text();
PAGES.push(/href="(\/gifts\/records\/[^"]+)"/.exec(records)[1]);
// Each page is sent for once and looked at in several ways: colours differ by scheme alone, widths by size alone.
const LOOKS = [["phone", "light", true], ["tablet", "light", false], ["desktop", "dark", true]];
const MORE_LOOKS = [["phone", "dark", false], ["tablet", "dark", false], ["desktop", "light", false]];
const paints = [];
for (let part = 0; part < LANES; part += 1) {
  test(`no serious finding, nothing wider than the screen, in light and dark: pages, part ${part + 1} of ${LANES}`, async () => {
    const { context, page } = await open("phone", { bypassCSP: true });
    for (const path of PAGES.filter((_, nth) => nth % LANES === part)) {
      const drawn = path.startsWith("/machine?");
      for (const [size, scheme, audited] of [...LOOKS, ...(shots ? MORE_LOOKS : [])]) {
        const [width, height] = SIZES[size];
        await page.setViewportSize({ width, height });
        await page.emulateMedia({ colorScheme: scheme });
        // What a script draws it draws for the width that it finds.
        if (size === LOOKS[0][0] && scheme === LOOKS[0][1]) await page.goto(`${base}${path}`);
        else if (drawn) await page.reload();
        if (drawn) await page.locator("#walk.live").waitFor();
        if (audited) {
          await page.evaluate(AXE);
          const found = await page.evaluate(() => window.axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa"] }));
          const serious = found.violations.filter((v) => ["serious", "critical"].includes(v.impact));
          assert.deepEqual(serious.map((v) => `${path}: ${v.id} at ${v.nodes.map((n) => n.target).join("; ")}`), []);
        }
        const wide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
        assert.ok(wide <= 0, `${path} is ${wide} px wider than the screen: ${size}, ${scheme}`);
        // A table may have to be moved; what it is of may not.
        const cut = await page.evaluate(() => [...document.querySelectorAll("caption")].filter((caption) => {
          const frame = caption.closest(".scroll");
          const words = document.createRange();
          words.selectNodeContents(caption);
          return frame && words.getBoundingClientRect().right > frame.getBoundingClientRect().right;
        }).map((caption) => caption.textContent.trim()));
        assert.deepEqual(cut, [], `${path}, ${size}`);
        if (shots) {
          mkdirSync(shots, { recursive: true });
          const name = path.replace(/[^a-z0-9]+/g, "-").slice(1, 40);
          await page.screenshot({ path: `${shots}/${size}-${scheme}-${name}.png` });
        }
      }
    }
    await context.close();
  }, "last");
}

test("every page is small, and soon there (told and not judged)", async (tell) => {
  const { context, page } = await open("phone");
  const seen = [];
  for (const path of PAGES) {
    const { bytes, loads } = await weigh(`${base}${path}`);
    assert.ok(bytes <= 60_000, `${path} is ${bytes} bytes without pictures: ${loads.join(", ")}`);
    await page.goto(`${base}${path}`);
    const painted = await page.evaluate(() => new Promise((resolve) => {
      const soon = () => {
        const [paint] = performance.getEntriesByName("first-contentful-paint");
        if (paint) resolve(paint.startTime);
        else setTimeout(soon, 20);
      };
      soon();
    }));
    seen.push({ path, bytes, painted: Math.round(painted) });
  }
  seen.sort((one, other) => other.painted - one.painted);
  const middle = seen[Math.floor(seen.length / 2)].painted;
  tell(`first paint: ${middle} ms as a rule; the last ${seen.slice(0, 5).map((one) => `${one.path} ${one.painted} ms`).join(", ")}`);
  seen.sort((one, other) => other.bytes - one.bytes);
  tell(`first visit without pictures: ${seen.slice(0, 5).map((one) => `${one.path} ${one.bytes} bytes`).join(", ")}`);
  await context.close();
}, "alone");

await goThrough();

await gone({ name: "nothing was asked of another host, and no script failed", body: async () => {
  assert.deepEqual(strangers, []);
  assert.deepEqual(faults.flat().filter((fault) => !/status of (404|422)/.test(fault)), []);
} });

await browser.close();
main.server.kill("SIGTERM");
await main.stopped;
rmSync(folder, { recursive: true, force: true });
process.exitCode = failed ? 1 : 0;
