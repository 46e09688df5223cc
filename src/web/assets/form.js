// The run follows what is typed and slid: the part of the page that shows it is fetched anew.
"use strict";
(() => {
  for (const form of document.querySelectorAll("form[data-go]")) {
    form.addEventListener("change", () => form.requestSubmit());
  }
  const form = document.getElementById("ask");
  const result = document.getElementById("result");
  const said = document.getElementById("said");
  if (!form || !result) return;
  document.documentElement.classList.add("scripted");

  const query = () => {
    const pairs = new URLSearchParams();
    for (const [key, value] of new FormData(form)) {
      if (value === "" || key === "for") continue;
      // The state of a swatch says nothing without the swatch.
      const field = form.elements[key];
      const needs = field && field.dataset && field.dataset.with;
      if (needs && document.getElementById(needs).value === "") continue;
      // What only says how it is saved is nothing to ask for.
      if (field && field.dataset && field.dataset.own !== undefined) continue;
      pairs.append(key, value);
    }
    // Where sizes are typed the list says nothing.
    if (pairs.has("range")) pairs.delete("sizes");
    return pairs.toString();
  };

  // Of the same make: the same things in the same order, whatever they say.
  const alike = (old, next) => old.nodeName === next.nodeName && old.className === next.className && old.id === next.id
    && old.childElementCount === next.childElementCount;
  // Where a new part differs from the old one it takes its place; what is as it was is not drawn again. What lies in
  // the round is told what to show now, and goes on turned as it was.
  const BOXES = ["ARTICLE", "DIV", "FIGURE", "A"];
  const change = (old, next) => {
    for (const name of old.getAttributeNames()) if (!next.hasAttribute(name)) old.removeAttribute(name);
    for (const { name, value } of next.attributes) if (old.getAttribute(name) !== value) old.setAttribute(name, value);
    const pairs = [...old.children].map((own, nth) => [own, next.children[nth]]);
    for (const [own, other] of pairs) {
      if (own.id === "round" && other.id === "round") Object.assign(own.dataset, other.dataset);
      else if (own.isEqualNode(other)) continue;
      else if (BOXES.includes(own.nodeName) && own.childElementCount > 0 && alike(own, other)) change(own, other);
      else own.replaceWith(document.adoptNode(other));
    }
  };

  // What the page shows is taken out and the new put in: what was open stays open, what lies in the
  // round keeps its place.
  const put = (part) => {
    const open = [...result.querySelectorAll("details[id][open]")].map((one) => one.id);
    const round = result.querySelector("#round");
    const across = [...result.querySelectorAll(".across")].map((one) => [one.scrollLeft, one.scrollTop]);
    const shown = result.firstElementChild;
    if (shown && part && result.childElementCount === 1 && alike(shown, part)) change(shown, part);
    else result.replaceChildren(...(part ? [document.adoptNode(part)] : []));
    for (const id of open) {
      const same = document.getElementById(id);
      if (same) same.open = true;
    }
    result.querySelectorAll(".across").forEach((one, nth) => {
      if (across[nth]) [one.scrollLeft, one.scrollTop] = across[nth];
    });
    const place = result.querySelector("#round");
    if (round && place && round !== place) {
      Object.assign(round.dataset, place.dataset);
      place.replaceWith(round);
    }
  };

  // One question is on its way at a time; what is asked for meanwhile is asked next, and only the last of
  // it. So the server never works on what nobody waits for.
  let busy = false;
  let waiting = false;
  let timer = 0;
  const show = async (sliding) => {
    if (busy) {
      waiting = true;
      return;
    }
    busy = true;
    const asked = query();
    const begun = performance.now();
    if (!sliding) result.setAttribute("aria-busy", "true");
    try {
      const answer = await fetch(`${form.dataset.part}?${asked}`, {
        headers: { accept: "text/html" },
        // Each place that a slider went through is not to be kept.
        cache: sliding ? "no-store" : "default",
      });
      if (answer.status === 503) {
        timer = setTimeout(() => show(sliding), 1000);
        return;
      }
      if (answer.redirected) {
        // The token is asked for again.
        location.reload();
        return;
      }
      const text = await answer.text();
      const parsed = new DOMParser().parseFromString(text, "text/html");
      // A fault comes as a whole page.
      const part = parsed.querySelector("[data-summary]") || parsed.querySelector("main");
      put(part);
      const summary = part && part.dataset.summary;
      if (!sliding) said.textContent = summary || "It can't be done like this.";
      history.replaceState(null, "", `${form.dataset.page}?${asked}`);
      result.dataset.took = Math.round(performance.now() - begun);
      result.removeAttribute("aria-busy");
      document.dispatchEvent(new CustomEvent("oddments:run", { detail: { query: asked, sliding } }));
    } catch (error) {
      result.removeAttribute("aria-busy");
      said.textContent = "The server does not answer.";
    } finally {
      busy = false;
      if (waiting) {
        waiting = false;
        show(sliding);
      }
    }
  };

  // Sliders write to the field beside them, which is what is sent.
  let frame = 0;
  const told = (slide) => `${slide.value}${slide.dataset.unit ? ` ${slide.dataset.unit}` : ""}`;
  for (const slide of document.querySelectorAll("input.slide")) {
    const field = document.getElementById(slide.dataset.of);
    slide.hidden = false;
    const say = () => slide.setAttribute("aria-valuetext", field.value || `${field.placeholder || told(slide)}, as usual`);
    say();
    slide.addEventListener("input", () => {
      field.value = told(slide);
      say();
      cancelAnimationFrame(frame);
      frame = requestAnimationFrame(() => show(true));
    });
    // At rest what came of it is told, and kept.
    slide.addEventListener("change", () => show(false));
    field.addEventListener("input", () => {
      const typed = parseFloat(field.value);
      if (!Number.isNaN(typed)) slide.value = typed;
      say();
    });
  }

  const ours = (event) => event.target.form === form && !event.target.classList.contains("slide");
  document.addEventListener("input", (event) => {
    if (!ours(event) || event.target.dataset.reload !== undefined) return;
    // A size chosen from the list takes the place of one typed.
    const range = form.elements.range;
    if (range && event.target.name === "sizes") range.value = "";
    clearTimeout(timer);
    timer = setTimeout(() => show(false), event.target.tagName === "INPUT" ? 350 : 0);
  });
  // Another garment or yarn has other fields: the whole page is asked for.
  const whole = (field) => field.dataset.reload !== undefined || field.name === "units";
  document.addEventListener("change", (event) => {
    if (!ours(event) || !whole(event.target)) return;
    const garment = form.elements.for ? form.elements.for.value : form.elements.garment.value;
    location.assign(`${form.dataset.page}?${query()}&for=${encodeURIComponent(garment)}`);
  });
  form.addEventListener("submit", (event) => {
    // A button that saves sends the form itself.
    if (event.submitter && event.submitter.formMethod === "post") return;
    event.preventDefault();
    clearTimeout(timer);
    show(false);
  });

  // While something is chosen on a narrow screen the picture stays in sight.
  const look = document.querySelector(".look");
  if (look) {
    const follow = (event) => look.classList.toggle("following", form.contains(event.target));
    document.addEventListener("focusin", follow);
    document.addEventListener("pointerdown", follow);
  }
})();
