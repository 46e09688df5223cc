// A newcomer's way through the pages: from an empty workspace to a row of a mitten, and to a plan that is accepted.
// `hand` is what moves: it goes to a field, types, presses. `seen` is told where there is something to look at.
import assert from "node:assert/strict";

const text = (page, selector) => page.locator(selector).innerText();

// By the keyboard alone: from field to field with the tabulator.
export const keys = (page) => {
  const go = async (selector) => {
    for (let tabs = 0; tabs < 250; tabs += 1) {
      if (await page.evaluate((wanted) => document.activeElement.matches(wanted), selector)) return;
      await page.keyboard.press("Tab");
    }
    throw new Error(`${selector} is not reached by the keyboard`);
  };
  return {
    press: async (selector) => { await go(selector); await page.keyboard.press("Enter"); },
    type: async (selector, typed) => { await go(selector); await page.keyboard.press("Control+A"); await page.keyboard.type(typed); },
    choose: async (selector, label) => {
      await go(selector);
      await page.keyboard.type(label);
      assert.ok((await page.locator(`${selector} option:checked`).innerText()).toLowerCase().startsWith(label.toLowerCase()));
    },
    tick: () => page.keyboard.press(" "),
  };
};

// By touch alone.
export const fingers = (page) => ({
  press: (selector) => page.locator(selector).tap(),
  type: async (selector, typed) => {
    await page.locator(selector).tap();
    await page.keyboard.press("Control+A");
    await page.keyboard.type(typed);
  },
  // The list that a phone opens for it is no part of the page.
  choose: (selector, label) => page.locator(selector).selectOption({ label }),
  tick: () => page.locator("#tick").tap(),
});

// As far as row 20 of a mitten.
export const newcomer = async (page, at, hand, seen = async () => {}) => {
  const step = async (title) => {
    await page.waitForURL(/\/start/);
    // The page may only just have been sent for.
    await page.locator("[aria-current=step] h2", { hasText: title }).waitFor();
    assert.equal((await text(page, "[aria-current=step] h2")).replace(/\s*next$/i, ""), title);
  };
  await page.goto(`${at}/`);
  await step("Yarn");
  await seen("begin");
  await hand.press(".next-step a.button");
  await page.waitForURL(/\/new\/yarn/);
  // What is wrong is said at its field, and what was typed is still there.
  await hand.type("#f-name", "Dulse");
  await hand.type("#f-yarn", "thick");
  await hand.type("#c-0", "dulse");
  await hand.press("form.entry button[type=submit]");
  await page.locator("#f-yarn-wrong").waitFor();
  assert.equal(await page.locator("#f-name").inputValue(), "Dulse");
  assert.equal(await page.locator("#c-0").inputValue(), "dulse");
  await hand.type("#f-yarn", "400 m/100 g");
  await seen("yarn");
  await hand.press("form.entry button[type=submit]");
  await step("Swatch");
  assert.match(await text(page, ".way .done .gave"), /400 m in 100 g/);
  await hand.press(".next-step a.button");
  await page.waitForURL(/\/swatch\?/);
  for (const [field, typed] of [["#plain-stitches", "40"], ["#plain-widths", "13,4 13,5 13,4"], ["#plain-rows", "60"],
    ["#plain-heights", "14,2; 14,3; 14,3"]]) await hand.type(field, typed);
  assert.equal(await page.locator("#swatch-id").inputValue(), "dulse");
  await seen("swatch");
  await hand.press("button[formaction]");
  await step("Remnant");
  assert.match(await text(page, ".way > li:nth-child(2) .gave"), /29[.]8 stitches and 42[.]1 rows to 10 cm/);
  await hand.press(".next-step a.button");
  await page.waitForURL(/\/new\/remnant/);
  await hand.choose("#f-yarn", "Dulse");
  await hand.type("#f-weight", "98,5");
  await seen("remnant");
  await hand.press("form.entry button[type=submit]");
  await step("Person");
  await hand.press(".next-step a.button");
  await page.waitForURL(/\/new\/person/);
  await hand.type("#own", "Wenna");
  await hand.choose("#f-size", "Women M");
  await seen("person");
  await hand.press("form.entry button[type=submit]");
  await step("Garment");
  await hand.choose("#w-garment", "Mittens");
  await hand.press(".next-step button[type=submit]");
  await step("Knit");
  assert.match(await text(page, ".way > li:nth-child(5) .gave"), /for Wenna: .* cm[^]*about \d+ g/);
  await seen("knit");
  await hand.press(".next-step a.button");
  await page.locator("#walk.live").waitFor();
  for (let steps = 0; (await text(page, "#counter")) !== "020"; steps += 1) {
    assert.ok(steps < 200, "row 20 is never reached");
    await hand.tick();
  }
  await seen("row 20");
};

// From wherever it is, on to a plan that is accepted: by what each page leads to.
export const planned = async (page, hand, seen = async () => {}) => {
  // On a small screen the machine has all of it.
  await hand.press("details.more > summary");
  await hand.press('details.more a[href="/gifts"]');
  await page.waitForURL(/\/gifts$/);
  await hand.press('nav.sub a[href="/gifts/plan"]');
  await page.waitForURL(/\/gifts\/plan$/);
  await hand.press("#plan form button.main");
  const made = page.getByRole("heading", { name: /1 of 1 gift/ });
  await made.waitFor({ timeout: 60000 });
  assert.match(await text(page, "ol.plan > li:first-child"), /g of dulse-1/);
  await seen("plan");
  await hand.press("form.inline button.main");
  await page.getByText("Accepted: the yarn is set aside.").waitFor();
  assert.equal(await page.locator("#aside tbody tr").count(), 1);
};
