// The run follows what is typed: the part of the page that shows it is fetched anew.
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

  let before = null;
  let timer = 0;
  const show = async () => {
    if (before) before.abort();
    before = new AbortController();
    const asked = query();
    result.setAttribute("aria-busy", "true");
    try {
      const answer = await fetch(`${form.dataset.part}?${asked}`, {
        signal: before.signal,
        headers: { accept: "text/html" },
      });
      if (answer.status === 503) {
        timer = setTimeout(show, 1000);
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
      result.replaceChildren(...(part ? [document.importNode(part, true)] : []));
      const summary = part && part.dataset.summary;
      said.textContent = summary || "It can't be done like this.";
      history.replaceState(null, "", `${form.dataset.page}?${asked}`);
      result.removeAttribute("aria-busy");
    } catch (error) {
      if (error.name === "AbortError") return;
      result.removeAttribute("aria-busy");
      said.textContent = "The server does not answer.";
    }
  };

  form.addEventListener("input", (event) => {
    if (event.target.dataset.reload !== undefined) return;
    // A size chosen from the list takes the place of one typed.
    const range = form.elements.range;
    if (range && event.target.name === "sizes") range.value = "";
    clearTimeout(timer);
    timer = setTimeout(show, event.target.tagName === "INPUT" ? 350 : 0);
  });
  form.addEventListener("change", (event) => {
    // Another garment has other options: the whole page is asked for.
    if (event.target.dataset.reload !== undefined || event.target.name === "units") {
      location.assign(`${form.dataset.page}?${query()}&for=${encodeURIComponent(form.elements.for ? form.elements.for.value : form.elements.garment.value)}`);
    }
  });
  form.addEventListener("submit", (event) => {
    // A button that saves sends the form itself.
    if (event.submitter && event.submitter.formMethod === "post") return;
    event.preventDefault();
    clearTimeout(timer);
    show();
  });
})();
