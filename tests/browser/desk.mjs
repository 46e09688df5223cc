// The page at the machine, with hands that are full: a button that stands still, changes that can't be missed,
// and the screen on which a finished piece is weighed and noted.
import assert from "node:assert/strict";

const PORTRAIT = { width: 390, height: 844 };
const LANDSCAPE = { width: 844, height: 390 };
const WALKS = ["garment=tam&sizes=women-m", "garment=sock&sizes=women-m", "garment=mitten&sizes=women-m"];

// Contrast of two colours by the formula of WCAG 2.1, 1.4.3 and 1.4.11.
const parts = (colour) => colour.match(/\d+(?:\.\d+)?/g).slice(0, 3).map(Number);
const light = (colour) => {
  const [r, g, b] = parts(colour).map((n) => n / 255).map((n) => (n <= 0.04045 ? n / 12.92 : ((n + 0.055) / 1.055) ** 2.4));
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
};
const contrast = (one, other) => {
  const [dark, bright] = [light(one), light(other)].sort((a, b) => a - b);
  return (bright + 0.05) / (dark + 0.05);
};

export const desk = async ({ test, open, base, text }) => {
  const stepOf = async (page) => Number(/step (\d+) of/.exec(await text(page, "#done"))[1]);
  // A page of its own, whose place no other device moves.
  const at = async (query, more = {}) => {
    const { context, page } = await open("phone", { viewport: PORTRAIT, ...more });
    await page.route("**/api/v1/places/*", (route) => route.fulfill({ status: 404, contentType: "application/json", body: "{}" }));
    // From the beginning, wherever another device is.
    await page.goto(`${base}/machine?${query}${query.includes("&at=") ? "" : "&at=0"}`);
    if (more.javaScriptEnabled !== false) await page.locator("#walk.live").waitFor();
    return { context, page };
  };
  const walkOf = async (page, query) => (await page.request.get(`${base}/api/v1/walk?${query}`)).json();

  for (const query of WALKS) {
    for (const viewport of [PORTRAIT, LANDSCAPE]) {
      test(`the button stands still over all steps: ${query}, ${viewport.width} x ${viewport.height}`, async () => {
        const { context, page } = await at(query, { viewport });
        const walk = await walkOf(page, query);
        const seen = await page.evaluate(() => {
          const tick = document.getElementById("tick");
          const place = (node) => { const { left, top, right, bottom } = node.getBoundingClientRect(); return [left, top, right, bottom]; };
          const first = place(tick);
          const found = { moves: 0, outside: 0, covered: 0, presses: 0, first };
          while (!tick.hidden && found.presses < 5000) {
            const [left, top, right, bottom] = place(tick);
            if ([left, top, right, bottom].some((edge, i) => edge !== first[i])) found.moves += 1;
            if (top < 0 || left < 0 || bottom > innerHeight || right > innerWidth) found.outside += 1;
            if (document.elementFromPoint((left + right) / 2, (top + bottom) / 2) !== tick) found.covered += 1;
            tick.click();
            found.presses += 1;
          }
          found.last = place(document.getElementById("finish"));
          return found;
        });
        const changing = walk.stops.filter((stop) => stop.changes.length > 0).length;
        assert.equal(seen.presses, walk.stops.length + changing, "not every step was gone");
        assert.deepEqual([seen.moves, seen.outside, seen.covered], [0, 0, 0]);
        assert.deepEqual(seen.last, seen.first, "what follows the last step is elsewhere");
        assert.ok(seen.first[3] >= viewport.height - 24, "the button is not at the bottom");
        assert.ok(seen.first[3] - seen.first[1] >= 44 && seen.first[2] - seen.first[0] >= 150, "the button is small");
        await context.close();
      });
    }
  }

  test("a thumb in one place goes on; touching the text does not", async () => {
    const { context, page } = await at("garment=sock&sizes=women-m", { hasTouch: true, isMobile: true });
    const box = await page.locator("#tick").boundingBox();
    const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
    for (let i = 0; i < 10; i += 1) await page.touchscreen.tap(x, y);
    assert.equal(await stepOf(page), 10);
    for (const part of ["#now", "#counter", "#side", "#bed", "#next"]) await page.locator(part).tap({ position: { x: 20, y: 12 } });
    assert.equal(await stepOf(page), 10, "touching the text went on");
    await context.close();
  });

  test("rows done in one go are taken back as one, a reload in between", async () => {
    const query = "garment=sock&sizes=women-m";
    const { context, page } = await at(query);
    await page.locator("#tick").click();
    await page.locator("#rows", { hasText: "Done all 20 rows, to 020" }).click();
    assert.equal(await stepOf(page), 21);
    await page.reload();
    await page.locator("#walk.live").waitFor();
    assert.equal(await text(page, "#back"), "Take back 20 rows");
    await page.locator("#back").click();
    assert.equal(await stepOf(page), 1);
    assert.equal(await text(page, "#back"), "Back one");
    // By a key as well, and one by one after a single step.
    await page.locator("#rows").click();
    await page.keyboard.press("u");
    assert.equal(await stepOf(page), 1);
    await page.locator("#tick").click();
    await page.keyboard.press("Backspace");
    assert.equal(await stepOf(page), 1);
    await context.close();
    const still = await at(query, { javaScriptEnabled: false });
    await still.page.locator("#tick").click();
    await still.page.locator("#rows").click();
    assert.equal(await stepOf(still.page), 21);
    await still.page.locator("#back", { hasText: "Take back 20 rows" }).click();
    assert.equal(await stepOf(still.page), 1);
    await still.context.close();
  });

  test("a change of piece, yarn or dial is seen before it goes on", async () => {
    const query = "garment=sock&sizes=women-m";
    const { context, page } = await at(`${query}&at=28`);
    const walk = await walkOf(page, query);
    // The yarn, then the next piece with its yarn and its dial.
    for (const at of [28, 29]) {
      assert.equal(await stepOf(page), at);
      const told = await text(page, "#change");
      for (const change of walk.stops[at].changes) assert.ok(told.includes(change.text), `${told} lacks ${change.text}`);
      assert.equal(await page.locator("#change .shape").count(), walk.stops[at].changes.length);
      assert.equal(await text(page, "#tick"), "Seen, go on");
      await page.locator("#tick").click();
      assert.equal(await stepOf(page), at, "it went on unseen");
      assert.ok(await page.locator("#change.seen").isVisible());
      assert.equal(await text(page, "#tick"), "Done, next");
      await page.locator("#tick").click();
    }
    assert.equal(await stepOf(page), 30);
    assert.ok(await page.locator("#change").isHidden());
    const kinds = new Set(walk.stops.flatMap((stop) => stop.changes.map((change) => change.of)));
    assert.deepEqual([...kinds].sort(), ["carriage", "dial", "piece", "yarn"]);
    // Each kind has a shape of its own: in grey too.
    await page.goto(`${base}/machine?${query}&at=0`);
    const shapes = await page.evaluate((all) => all.map((kind) => {
      const item = document.createElement("li");
      item.className = `of-${kind}`;
      item.innerHTML = '<span class="shape"></span>';
      document.getElementById("changes").append(item);
      const style = getComputedStyle(item.firstChild);
      return `${style.borderRadius} ${style.clipPath}`;
    }), [...kinds]);
    assert.equal(new Set(shapes).size, kinds.size, shapes.join("; "));
    await context.close();
  });

  test("keys alone lead on, back and to the scale", async () => {
    const query = "garment=cuff&sizes=women-m";
    const { context, page } = await at(query);
    const { stops } = await walkOf(page, query);
    const changing = (until) => stops.slice(0, until).filter((stop) => stop.changes.length > 0).length;
    for (const key of ["Enter", " ", "PageDown", "Enter"]) await page.keyboard.press(key);
    assert.equal(await stepOf(page), 4);
    for (const key of ["u", "Backspace", "PageUp"]) await page.keyboard.press(key);
    assert.equal(await stepOf(page), 1);
    for (let i = 0; i < stops.length - 1 + changing(stops.length); i += 1) await page.keyboard.press(i % 2 ? "Enter" : " ");
    assert.equal(await stepOf(page), stops.length);
    // No key goes past the end.
    await page.keyboard.press(" ");
    assert.equal(await stepOf(page), stops.length);
    await page.keyboard.press("Tab");
    for (let i = 0; i < 30 && await page.evaluate(() => document.activeElement.id) !== "finish"; i += 1) await page.keyboard.press("Tab");
    await page.keyboard.press("Enter");
    await page.waitForURL(/\/machine\/finish\?/);
    await context.close();
  });

  test("a screen reader hears the row once for several steps", async () => {
    const query = "garment=sock&sizes=women-m";
    const { context, page } = await at(query);
    assert.equal(await page.locator("#now[aria-live]").count(), 0);
    assert.equal(await page.locator("#heard").getAttribute("aria-live"), "polite");
    await page.evaluate(() => {
      window.heard = [];
      new MutationObserver(() => window.heard.push(document.getElementById("heard").textContent)).observe(document.getElementById("heard"), { childList: true });
    });
    for (let i = 0; i < 5; i += 1) await page.evaluate(() => document.getElementById("tick").click());
    await page.waitForFunction(() => window.heard.length > 0);
    assert.deepEqual(await page.evaluate(() => window.heard), ["Row counter 004. Knit 1 row to the left."]);
    await context.close();
  });

  test("what was chosen calls where the next row needs a hand, and is remembered", async () => {
    const query = "garment=sock&sizes=women-m";
    const { context, page } = await open("phone", { viewport: PORTRAIT });
    await page.addInitScript(() => {
      window.calls = { buzz: 0, voice: [], sound: 0 };
      Object.defineProperty(Navigator.prototype, "vibrate", { value: () => { window.calls.buzz += 1; return true; } });
      speechSynthesis.speak = (words) => window.calls.voice.push(words.text);
      const start = OscillatorNode.prototype.start;
      OscillatorNode.prototype.start = function begin(...when) { window.calls.sound += 1; start.apply(this, when); };
    });
    await page.route("**/api/v1/places/*", (route) => route.fulfill({ status: 404, contentType: "application/json", body: "{}" }));
    await page.goto(`${base}/machine?${query}&at=19`);
    await page.locator("#walk.live").waitFor();
    await page.locator("#tick").click();
    assert.deepEqual(await page.evaluate(() => window.calls), { buzz: 0, voice: [], sound: 0 }, "it calls unasked");
    await page.locator("details.more summary").click();
    for (const name of ["sound", "buzz", "voice", "large"]) await page.locator(`#choices input[name=${name}]`).check();
    const before = await page.locator("#now").evaluate((node) => parseFloat(getComputedStyle(node).fontSize));
    await page.reload();
    await page.locator("#walk.live").waitFor();
    for (const name of ["sound", "buzz", "voice", "large"]) assert.ok(await page.locator(`#choices input[name=${name}]`).isChecked(), `${name} is forgotten`);
    // A plain row calls nobody, a transfer at another dial does.
    await page.locator("#back").click();
    await page.locator("#tick").click();
    assert.deepEqual(await page.evaluate(() => window.calls), { buzz: 0, voice: [], sound: 0 });
    await page.locator("#tick").click();
    const calls = await page.evaluate(() => window.calls);
    assert.deepEqual([calls.buzz, calls.sound, calls.voice.length], [1, 2, 1]);
    assert.match(calls.voice[0], /Dial 7.*Transfer every ribber loop/);
    await page.locator("details.more summary").click();
    await page.locator("#choices input[name=large]").uncheck();
    await page.locator("#back").click();
    const usual = await page.locator("#now").evaluate((node) => parseFloat(getComputedStyle(node).fontSize));
    assert.ok(before >= usual * 1.25, `${before} px is no larger than ${usual} px`);
    assert.ok(usual >= 50, `a plain row is told in ${usual} px`);
    await context.close();
  });

  for (const colorScheme of ["light", "dark"]) {
    test(`bed strip and chart are told apart in grey: ${colorScheme}`, async () => {
      const { context, page } = await at("garment=sock&sizes=women-m&at=146", { colorScheme });
      const fills = await page.evaluate(() => {
        const fill = (selector) => getComputedStyle(document.querySelector(selector)).fill;
        const behind = (selector) => getComputedStyle(document.querySelector(selector)).backgroundColor;
        return {
          idle: fill("#bed-svg .idle"), holds: fill("#bed-svg .holds"), knits: fill("#bed-svg .knits"), touched: fill("#bed-svg .touched"),
          page: behind("body"), chart: behind("#chart-svg"), past: fill("#chart-svg .past"), now: fill("#chart-svg .now"), next: fill("#chart-svg .next-row"),
        };
      });
      for (const [one, other] of [["idle", "holds"], ["idle", "knits"], ["holds", "knits"], ["touched", "page"], ["touched", "holds"], ["touched", "idle"],
        ["past", "chart"], ["now", "chart"], ["next", "chart"], ["past", "now"], ["next", "now"]]) {
        const ratio = contrast(fills[one], fills[other]);
        assert.ok(ratio >= 3, `${one} and ${other} differ by ${ratio.toFixed(2)} to 1`);
      }
      // What is done and what is to come have one colour: the rows to come are thin.
      const heights = await page.evaluate(() => ["past", "next-row"].map((cls) => Number(document.querySelector(`#chart-svg .${cls}`).getAttribute("height"))));
      assert.ok(heights[0] >= heights[1] * 2);
      await context.close();
    });
  }

  test("the page follows the knitter's counter, and what has come out otherwise is asked at this row", async () => {
    const query = "garment=tam&sizes=women-m";
    const { context, page } = await at(`${query}&at=60`);
    await page.locator("details.otherwise summary").click();
    await page.locator("#recount-shown").fill("33");
    await page.locator("#recount button").click();
    assert.equal(await text(page, "#counter"), "033");
    assert.equal(await text(page, "#side"), "left");
    for (const link of await page.locator("a[data-carry]").all()) assert.match(await link.getAttribute("href"), /stands=hat%3A%2B33/);
    await page.getByRole("link", { name: /So much yarn is left/ }).click();
    await page.waitForURL(/\/carry-on\?.*#left$/);
    assert.equal(await page.locator("#stands").inputValue(), "hat:+33");
    await page.locator("#left").fill("40 g");
    await page.getByRole("button", { name: "What becomes of it" }).click();
    await page.locator("#result, .fault").first().waitFor();
    await page.goto(`${base}/machine?${query}`);
    await page.locator("#walk.live").waitFor();
    await page.locator("details.otherwise summary").click();
    await page.getByRole("link", { name: "What that much yarn makes instead" }).click();
    await page.locator("#weight").fill("34");
    await page.getByRole("button", { name: "Show" }).click();
    await page.getByText("What 34 g reaches").waitFor();
    assert.match(await text(page, "tbody"), /Wedge tam/);
    await context.close();
  });

  for (const javaScriptEnabled of [true, false]) {
    const [garment, gift, ball, left] = javaScriptEnabled ? ["tam", "ruan-tam", "slate-2", "10,5"] : ["hat", "tamsin-hat", "heather-1", "40"];
    test(`a finished piece is weighed, noted and its gift closed in one screen, ${javaScriptEnabled ? "with" : "without"} scripts`, async () => {
      const query = javaScriptEnabled ? "garment=tam&sizes=men-l&o.wedges=6" : "garment=hat&sizes=y11-12";
      const { context, page } = await at(`${query}&at=100000`, { javaScriptEnabled });
      await page.locator("#finish").click();
      await page.waitForURL(/\/machine\/finish\?/);
      await page.locator("#gift").selectOption(gift);
      await page.getByRole("group", { name: "Hat" }).waitFor();
      const rows = page.locator("fieldset:has(legend)");
      const last = (await rows.count()) - 1;
      await rows.nth(last).getByLabel("Ball").first().fill(ball);
      await page.getByRole("button", { name: "See what it took" }).click();
      await page.getByText(`what does ${ball} weigh now?`).waitFor();
      await rows.nth(last).getByLabel("Weighs now, g").first().fill(left);
      await page.getByRole("button", { name: "See what it took" }).click();
      await page.getByText("Before it is written").waitFor();
      assert.equal(await page.locator("#gift").inputValue(), gift);
      await page.getByRole("button", { name: "That is right: record it" }).click();
      await page.getByText(`The gift ${gift} is done.`).waitFor();
      const gifts = await (await page.request.get(`${base}/api/v1/lists/gifts`)).json();
      assert.ok(JSON.stringify(gifts).includes(gift));
      const stash = await (await page.request.get(`${base}/api/v1/lists/stash`)).text();
      assert.ok(stash.includes(left.replace(",", ".")), "the ball is not weighed again");
      await context.close();
    }, "writes");
  }
};
