// Light or dark: as the device has it, until someone chooses.
"use strict";
(() => {
  const KEY = "oddments.theme";
  const read = () => {
    try { return localStorage.getItem(KEY); } catch { return null; }
  };
  const wear = (theme) => {
    if (theme) document.documentElement.dataset.theme = theme;
    else delete document.documentElement.dataset.theme;
  };
  wear(read());
  // Over an open network browsers keep nothing: then the pages need the server.
  if ("serviceWorker" in navigator) navigator.serviceWorker.register("/offline.js").catch(() => {});
  document.addEventListener("DOMContentLoaded", () => {
    // A page that was loaded past the keeper of pages clears what that one kept by itself.
    const out = document.getElementById("log-out");
    if (out && "caches" in window) {
      out.addEventListener("submit", async () => {
        for (const name of await caches.keys()) caches.delete(name);
      });
    }
    const button = document.getElementById("theme");
    if (!button) return;
    const dark = () => {
      const chosen = document.documentElement.dataset.theme;
      return chosen ? chosen === "dark" : matchMedia("(prefers-color-scheme: dark)").matches;
    };
    const label = () => { button.textContent = dark() ? "Light page" : "Dark page"; };
    button.hidden = false;
    label();
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", label);
    button.addEventListener("click", () => {
      const theme = dark() ? "light" : "dark";
      wear(theme);
      try { localStorage.setItem(KEY, theme); } catch { /* it lasts for this page */ }
      label();
    });
  });
})();
