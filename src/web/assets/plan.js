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
      const short = plan.objective > 0 && plan.bound > 0 ? (plan.bound / plan.objective - 1) * 100 : null;
      const best = short === null ? "" : short < 0.5 ? " The best plan so far is as good as any can be, or nearly." : ` The best plan so far could be better by ${Math.ceil(short)} % at most.`;
      words.textContent = `${bar.value} % of the search done.${best}`;
    } catch { words.textContent = "The server does not answer."; }
    setTimeout(look, 700);
  };
  look();
})();
