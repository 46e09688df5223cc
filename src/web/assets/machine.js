// One step after the other. The page knows the whole way, so it goes on without the server; the
// place is kept on this device at once, and on the server as soon as it answers.
"use strict";
(() => {
  const root = document.getElementById("walk");
  if (!root) return;
  const el = (id) => document.getElementById(id);
  const { walk: walkUrl, place: id, query, title, techniques } = root.dataset;
  const placeUrl = `/api/v1/places/${id}`;
  const KEY = `oddments.place.${id}`;
  const POLL_MS = 2000;
  let walk = null;
  let at = Number(root.dataset.at);
  let revision = 0;
  let unsaved = false;
  let saving = false;

  // ---- Where we are, on this device

  const load = () => {
    try { return JSON.parse(localStorage.getItem(KEY)); } catch { return null; }
  };
  const keep = () => {
    try { localStorage.setItem(KEY, JSON.stringify({ at, revision, unsaved })); } catch { /* the server has it */ }
  };

  // ---- Words

  const needle = (n) => (n < 0 ? `L${-n}` : `R${n + 1}`);
  const counter = (n) => String(n).padStart(3, "0");
  const make = (tag, cls, text) => {
    const node = document.createElement(tag);
    if (cls) node.className = cls;
    if (text !== undefined) node.textContent = text;
    return node;
  };
  const told = (stop) => {
    const nodes = [];
    if (stop.deeds.length) {
      const list = make("ul", "deeds");
      for (const deed of stop.deeds) {
        const item = make("li", deed.what || "note");
        const what = make(deed.how ? "a" : "span", "deed", deed.what || "note");
        if (deed.how) {
          what.href = `${techniques}#${deed.how}`;
          what.title = "How it is done";
        }
        item.append(what, " ", deed.text);
        list.append(item);
      }
      nodes.push(list);
    }
    if (stop.pass) nodes.push(make("p", "pass", stop.pass.text));
    return nodes;
  };
  const say = (text) => { el("said").textContent = text; };

  // ---- Pictures

  const SVG = "http://www.w3.org/2000/svg";
  const box = (x, y, width, height, cls) => {
    const rect = document.createElementNS(SVG, "rect");
    for (const [key, value] of Object.entries({ x, y, width, height })) rect.setAttribute(key, value);
    rect.setAttribute("class", cls);
    return rect;
  };
  const bed = (stop) => {
    const piece = stop && stop.piece !== null ? walk.pieces[stop.piece] : null;
    const figure = el("bed");
    figure.hidden = !piece || !piece.needles;
    if (figure.hidden) return;
    const [left, right] = piece.needles;
    const svg = el("bed-svg");
    svg.setAttribute("viewBox", `${left} 0 ${right - left + 1} 20`);
    const rects = [box(left, 8, right - left + 1, 10, "idle")];
    for (const [a, b] of stop.held) rects.push(box(a, 2, b - a + 1, 10, "holds"));
    if (stop.pass) {
      for (const [a, b, ribber] of stop.pass.spans) rects.push(box(a, ribber ? 13 : 8, b - a + 1, ribber ? 5 : 10, "knits"));
    }
    for (const deed of stop.deeds) {
      if (deed.needles) rects.push(box(deed.needles[0], 0, deed.needles[1] - deed.needles[0] + 1, 4, "touched"));
    }
    svg.replaceChildren(...rects);
    el("bed-left").textContent = needle(left);
    el("bed-right").textContent = needle(right);
  };
  const chart = () => {
    const AROUND = 16;
    const here = walk.stops[at];
    const piece = here && here.piece !== null ? walk.pieces[here.piece] : null;
    el("chart").hidden = !piece || !piece.needles;
    if (el("chart").hidden) return;
    const rows = [];
    let current = -1;
    for (let i = at; i >= 0 && rows.length < AROUND && walk.stops[i].piece === here.piece; i -= 1) {
      if (walk.stops[i].pass) rows.unshift(walk.stops[i]);
    }
    current = here.pass ? rows.length - 1 : rows.length;
    for (let i = at + 1, more = 0; i < walk.stops.length && more < AROUND && walk.stops[i].piece === here.piece; i += 1) {
      if (walk.stops[i].pass) { rows.push(walk.stops[i]); more += 1; }
    }
    const [left, right] = piece.needles;
    const svg = el("chart-svg");
    svg.setAttribute("viewBox", `${left} 0 ${right - left + 1} ${rows.length}`);
    const rects = [];
    rows.forEach((row, i) => {
      const y = rows.length - 1 - i;
      rects.push(box(left, y, right - left + 1, 0.9, "idle"));
      for (const [a, b] of row.pass.spans) rects.push(box(a, y, b - a + 1, 0.9, i === current ? "now" : i < current ? "past" : "knits"));
    });
    svg.replaceChildren(...rects);
  };

  // ---- The page

  const show = () => {
    const of = walk.stops.length;
    const stop = walk.stops[at];
    el("progress").max = of;
    el("progress").value = at;
    const rowsDone = stop ? stop.rows[0] : walk.rows;
    el("done").textContent = `row ${rowsDone} of ${walk.rows}, step ${at} of ${of}`;
    el("back").setAttribute("aria-disabled", String(at === 0));
    el("tick").setAttribute("aria-disabled", String(at >= of));
    const onBed = stop && stop.piece !== null;
    el("piece").textContent = !stop ? "Done" : onBed ? walk.pieces[stop.piece].title : "Finishing";
    el("counter").textContent = onBed ? counter(stop.counter[0]) : "---";
    el("side").textContent = onBed ? stop.carriage[0] : "off";
    root.dataset.side = onBed ? stop.carriage[0] : "off";
    el("now").replaceChildren(...(stop ? told(stop) : [make("p", "pass", "All done. Well knitted.")]));
    el("next").replaceChildren(...walk.stops.slice(at + 1, at + 4).map((next) => {
      const item = make("li");
      item.append(...told(next));
      return item;
    }));
    const more = stop && stop.pass ? stop.pass.more : 0;
    el("rows").hidden = more === 0;
    if (more > 0) el("rows").textContent = `Done all ${more + 1} rows, to ${counter(walk.stops[at + more].counter[1])}`;
    bed(stop);
    chart();
    carry(stop);
  };
  // What is said of the work in hand is said of this row.
  const carry = (stop) => {
    const link = new URL(el("carry").href);
    const first = stop && walk.stops.find((other) => other.piece === stop.piece);
    const onBed = stop && stop.piece !== null;
    link.searchParams.set("stands", onBed ? `${walk.pieces[stop.piece].name}:+${stop.rows[0] - first.rows[0]}` : "");
    el("carry").href = link.href;
  };

  const go = (to) => {
    const next = Math.max(0, Math.min(walk.stops.length, to));
    if (next === at) return;
    at = next;
    unsaved = true;
    keep();
    show();
    save();
  };
  const tick = () => go(at + 1);
  // Back to the first thing done after the row that is then the last; no further than the piece,
  // since what came off the bed can't be ripped on it.
  const ripBack = (rows) => {
    let i = Math.min(at, walk.stops.length - 1);
    const { piece, rows: [done] } = walk.stops[i];
    const target = done - rows;
    let to = i;
    for (; i >= 0 && walk.stops[i].piece === piece && walk.stops[i].rows[0] >= target; i -= 1) to = i;
    go(to);
    say(`Ripped back ${done - walk.stops[to].rows[0]} rows.`);
  };

  // ---- Where we are, on the server

  const tellWorked = (place) => {
    if (place.worked === undefined) return;
    el("worked").textContent = place.worked ? `, ${place.worked}` : "";
    const record = el("record");
    if (!record || !place.worked) return;
    const link = new URL(record.href);
    link.searchParams.set("minutes", String(Math.max(1, Math.round(place.worked_seconds / 60))));
    record.href = link.href;
  };
  const adopt = (place) => {
    tellWorked(place);
    revision = place.revision;
    unsaved = false;
    if (place.stop !== at && place.stop <= walk.stops.length) {
      at = place.stop;
      show();
    }
    keep();
  };
  const save = async () => {
    if (saving || !unsaved) return;
    saving = true;
    const sent = at;
    try {
      const answer = await fetch(placeUrl, {
        method: "PUT",
        headers: { "content-type": "application/json" },
        body: JSON.stringify({ query, title, stop: sent, of: walk.stops.length, revision }),
      });
      if (answer.ok) {
        const place = await answer.json();
        tellWorked(place);
        revision = place.revision;
        unsaved = at !== sent;
        keep();
        el("kept").dataset.state = "saved";
      } else if (answer.status === 409) {
        adopt(await answer.json());
        say("Another device moved on: this is where it is.");
      } else if (answer.status === 401) {
        location.reload();
      } else {
        say("The server did not take the place; this device keeps it.");
      }
    } catch {
      say("The server does not answer; this device keeps the place.");
    }
    saving = false;
    if (unsaved) setTimeout(save, 200);
  };
  const look = async () => {
    if (document.hidden || saving) return;
    if (unsaved) { save(); return; }
    try {
      const answer = await fetch(placeUrl);
      if (!answer.ok) return;
      const place = await answer.json();
      if (place.revision > revision && !unsaved && !saving) adopt(place);
    } catch { /* it will answer again */ }
  };

  // ---- The screen

  let lock = null;
  const stayAwake = async () => {
    const words = el("awake");
    if (!("wakeLock" in navigator)) {
      words.textContent = window.isSecureContext
        ? "This browser can't keep the screen on: set the device's screen time to its longest."
        : "Browsers keep the screen on only over a secure connection: set the device's screen time to its longest.";
      return;
    }
    if (document.hidden || lock) return;
    try {
      lock = await navigator.wakeLock.request("screen");
      words.textContent = "The screen stays on.";
      lock.addEventListener("release", () => { lock = null; });
    } catch {
      words.textContent = "The screen may go dark: the battery may be low.";
    }
  };

  // ---- Hands and feet

  const typing = (target) => target.closest && target.closest("input, select, textarea");
  const presses = (target) => target.closest && target.closest("a[href], button, summary");
  document.addEventListener("keydown", (event) => {
    if (event.altKey || event.ctrlKey || event.metaKey || typing(event.target)) return;
    const forward = event.key === "PageDown" || (event.key === " " && !(presses(event.target) && event.target.id !== "tick"));
    const back = event.key === "PageUp" || event.key === "Backspace";
    if (!forward && !back) return;
    event.preventDefault();
    // A foot that stays on the pedal is one step.
    if (event.repeat) return;
    if (forward) tick(); else go(at - 1);
  });
  const press = (name, action) => el(name).addEventListener("click", (event) => {
    event.preventDefault();
    action();
  });

  const begin = async () => {
    const answer = await fetch(walkUrl);
    if (!answer.ok) throw new Error("no walk");
    walk = await answer.json();
    const mine = load();
    if (mine && Number.isInteger(mine.at)) {
      revision = mine.revision || 0;
      unsaved = Boolean(mine.unsaved);
      at = Math.max(0, Math.min(walk.stops.length, mine.at));
    }
    press("tick", tick);
    press("back", () => go(at - 1));
    press("rows", () => {
      const stop = walk.stops[at];
      go(at + 1 + (stop && stop.pass ? stop.pass.more : 0));
    });
    el("now").addEventListener("click", tick);
    el("rip").hidden = false;
    el("rip").addEventListener("submit", (event) => {
      event.preventDefault();
      const rows = Number(el("rip-rows").value);
      if (rows > 0) ripBack(rows);
    });
    root.classList.add("live");
    show();
    await look();
    setInterval(look, POLL_MS);
    stayAwake();
    document.addEventListener("visibilitychange", () => { stayAwake(); look(); });
  };
  begin().catch(() => say("The way could not be loaded: the links still work."));
})();
