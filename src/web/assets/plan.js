// A plan or a list of what to buy being made: the bar moves, and the page is asked for anew when it is done.
"use strict";
(() => {
  const root = document.getElementById("planning");
  if (!root) return;
  const bar = document.getElementById("bar");
  const words = document.getElementById("how-far");
  const look = async () => {
    try {
      const answer = await fetch(root.dataset.plan);
      const plan = await answer.json();
      if (!answer.ok || plan.state !== "running") {
        location.reload();
        return;
      }
      bar.value = Math.round(plan.share * 100);
      const points = plan.objective == null ? "" : ` The best plan so far is worth ${plan.objective} points, and none is worth more than ${plan.bound}.`;
      words.textContent = `${bar.value} % of the search done.${points}`;
    } catch { words.textContent = "The server does not answer."; }
    setTimeout(look, 700);
  };
  look();
})();
