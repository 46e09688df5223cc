// A garment in the round, turned: `run.mjs` calls it with a browser that can draw.
import assert from "node:assert/strict";

export const turned = async ({ test, open, base, text }) => {
  const shown = async (page, path, detail = "full") => {
    await page.goto(`${base}${path}`);
    await page.locator("#round").scrollIntoViewIfNeeded();
    await page.waitForFunction((wanted) => document.querySelector("#round").dataset.live === wanted, detail, { timeout: 60000 });
    await page.waitForTimeout(100);
  };
  // How many points differ from what the canvas showed when this was asked last; of the first time, how many are
  // drawn at all. Read at the end of a frame in which it was drawn.
  const changed = (page) => page.evaluate(() => new Promise((done) => {
    const canvas = document.querySelector("#round canvas");
    // Back and forth: it is drawn anew and is as it was.
    for (const key of ["ArrowLeft", "ArrowRight"]) canvas.dispatchEvent(new KeyboardEvent("keydown", { key }));
    requestAnimationFrame(() => {
      const copy = document.createElement("canvas");
      [copy.width, copy.height] = [canvas.width, canvas.height];
      const flat = copy.getContext("2d");
      flat.drawImage(canvas, 0, 0);
      const now = new Uint32Array(flat.getImageData(0, 0, copy.width, copy.height).data.buffer);
      const old = window.shownBefore ?? new Uint32Array(now.length);
      window.shownBefore = now;
      let count = 0;
      for (let n = 0; n < now.length; n += 1) if (now[n] !== old[n]) count += 1;
      done(count);
    });
  }));

  test("a garment is turned by keys, by a finger and nearer, and told in words", async () => {
    const { context, page } = await open("phone", { hasTouch: true });
    await shown(page, "/grade?garment=cuff&sizes=y7-8");
    const label = await page.locator("#round canvas").getAttribute("aria-label");
    assert.match(label, /Cuffs, 7-8 years, in the round: .* cm\. Arrow keys turn it/);
    assert.ok((await changed(page)) > 500, "nothing is drawn");
    await page.locator("#round canvas").focus();
    await page.keyboard.press("ArrowRight");
    await page.keyboard.press("ArrowUp");
    assert.ok((await changed(page)) > 500, "keys don't turn it");
    await page.keyboard.press("+");
    assert.ok((await changed(page)) > 500, "it comes no nearer");
    const box = await page.locator("#round canvas").boundingBox();
    await page.mouse.move(box.x + 100, box.y + 100);
    await page.mouse.down();
    await page.mouse.move(box.x + 180, box.y + 100, { steps: 4 });
    await page.mouse.up();
    assert.ok((await changed(page)) > 500, "a drag does not turn it");
    await page.getByRole("button", { name: "Where it stretches" }).click();
    assert.ok((await changed(page)) > 500, "the stretch is not shown");
    assert.equal(await changed(page), 0, "it moves by itself");
    assert.equal(await page.locator(".stretch-told").isVisible(), true);
    await context.close();
  });

  test("its stripes follow the ball's start, and nothing is fetched for it", async () => {
    const { context, page } = await open();
    await shown(page, "/grade?garment=cuff&sizes=y7-8");
    const set = async (start) => {
      await page.locator("#start").fill(start);
      await page.waitForFunction((wanted) => location.search.includes(`start=${wanted}`), start);
      await page.waitForTimeout(200);
    };
    // Before anything is chosen the address leaves out what is as usual.
    await set("1");
    await page.waitForFunction(() => document.querySelector("#round").dataset.live === "full");
    await changed(page);
    let fetched = 0;
    page.on("request", (request) => { if (request.url().includes("/round?")) fetched += 1; });
    await set("6");
    assert.ok((await changed(page)) > 500, "the stripes stay where they were");
    assert.equal(fetched, 0, "the shape is asked for again");
    // Another size is another shape.
    await page.locator("#o-ease, input[name='o.ease']").first().fill("10 %");
    await page.waitForFunction(() => location.search.includes("ease"));
    await page.waitForFunction(() => document.querySelector("#round").dataset.live === "full", null, { timeout: 60000 });
    assert.ok(fetched > 0, "another shape is not asked for");
    await context.close();
  });

  test("how fast it turns here (software drawing), told and not judged", async (tell) => {
    const { context, page } = await open();
    for (const garment of ["cuff", "tam"]) {
      await shown(page, `/grade?garment=${garment}&sizes=women-m`);
      const a = await page.evaluate(async () => {
        const canvas = document.querySelector("#round canvas");
        const from = Number(canvas.dataset.frames);
        const begun = performance.now();
        while (performance.now() - begun < 2000) {
          canvas.dispatchEvent(new KeyboardEvent("keydown", { key: "ArrowLeft" }));
          await new Promise(requestAnimationFrame);
        }
        return (Number(canvas.dataset.frames) - from) / 2;
      });
      assert.ok(a > 0, "it does not turn");
      tell(`${garment}: ${a} frames a second`);
    }
    await context.close();
  }, "alone");

  test("where nothing can be turned there is a still with its words", async () => {
    const { context, page } = await open("desktop", { javaScriptEnabled: false });
    await page.goto(`${base}/grade?garment=cuff&sizes=y7-8`);
    const still = page.locator("#round img");
    assert.match(await still.getAttribute("alt"), /in the round/);
    const answer = await page.request.get(`${base}${await still.getAttribute("src")}`);
    assert.equal(answer.status(), 200);
    assert.match(await answer.text(), /^<svg|<svg /);
    await context.close();
  });
};
