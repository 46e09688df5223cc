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
  const CHOICES = "oddments.desk";
  const POLL_MS = 2000;
  let walk = null;
  let at = Number(root.dataset.at);
  let revision = 0;
  let unsaved = false;
  let saving = false;
  // The stop whose changes were acknowledged, and rows that were done in one go: from stop, to stop.
  let seen = -1;
  let group = null;

  // ---- On this device

  const load = (key) => {
    try { return JSON.parse(localStorage.getItem(key)); } catch { return null; }
  };
  const store = (key, value) => {
    try { localStorage.setItem(key, JSON.stringify(value)); } catch { /* it lasts for this page */ }
  };
  const keep = () => store(KEY, { at, revision, unsaved, seen, group });

  // ---- The way: what is said often stands in it once, and rows alike are a number

  const SIDES = ["left", "right"];
  const pairsOf = (flat) => flat.flatMap((n, i) => (i % 2 ? [] : [[n, flat[i + 1]]]));
  const unfold = (data) => {
    const stops = [];
    const texts = [null, null];
    let spans = [];
    let held = [];
    let last = null;
    const deeds = data.deeds.map(([what, text, needles = null, how = null]) => ({ what, text, needles, how }));
    const changes = data.changes.map(([of, text]) => ({ of, text }));
    const add = (own, pass, place) => {
      const row = pass ? 1 : 0;
      const from = place ? place[5] : SIDES.indexOf(last.carriage[1]);
      const to = place ? place[6] : (from + row) % 2;
      const stop = {
        piece: place ? (place[0] < 0 ? null : place[0]) : last.piece,
        rows: place ? [place[1], place[2]] : [last.rows[1], last.rows[1] + row],
        counter: place ? [place[3], place[4]] : [last.counter[1], last.counter[1] + row],
        carriage: [SIDES[from], SIDES[to]],
        held,
        pass: null,
        ...own,
      };
      if (pass) {
        texts[from] = pass.text ?? texts[from];
        stop.pass = { text: texts[from], more: pass.more, spans };
      }
      stops.push(stop);
      last = stop;
    };
    for (const entry of data.stops) {
      if (typeof entry === "number") {
        for (let i = 0; i < entry; i += 1) add({ deeds: [], changes: [] }, { more: last.pass.more - 1 }, null);
        continue;
      }
      const [own, pass, nowHeld, other, place] = entry;
      if (Array.isArray(nowHeld)) held = pairsOf(nowHeld);
      if (pass && pass.length > 2) {
        spans = [];
        for (let i = 2; i < pass.length; i += 3) spans.push(pass.slice(i, i + 3));
      }
      add(
        { deeds: (own || []).map((n) => deeds[n]), changes: (other || []).map((n) => changes[n]) },
        pass ? { text: data.passes[pass[0]], more: pass[1] } : null,
        place || null,
      );
    }
    const pieces = data.pieces.map(([name, called, needles]) => ({ name, title: called, needles }));
    return { rows: data.rows, pieces, stops };
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
  const sayings = (stop) => [...stop.changes, ...stop.deeds, ...(stop.pass ? [stop.pass] : [])].map((one) => one.text);
  // As the server sizes it: the less there is to say, the larger.
  const lengthOf = (stop) => {
    const letters = stop ? [...stop.deeds, ...(stop.pass ? [stop.pass] : [])].reduce((n, one) => n + one.text.length, 0) : 0;
    return letters <= 40 ? "short" : letters <= 140 ? "middle" : letters <= 320 ? "long" : "longest";
  };
  const say = (text) => { if (el("said").textContent !== text) el("said").textContent = text; };
  const rowsIn = (from, to) => (walk.stops[to] ? walk.stops[to].rows[0] : walk.rows) - walk.stops[from].rows[0];
  const needsHand = (stop) => Boolean(stop) && (stop.deeds.length > 0 || stop.changes.length > 0);

  // What a screen reader hears: the last of several steps, and of a plain row no more than where it is.
  let hearing = 0;
  const hear = () => {
    clearTimeout(hearing);
    hearing = setTimeout(() => {
      const stop = walk.stops[at];
      const row = stop && stop.piece !== null ? `Row counter ${counter(stop.counter[0])}. ` : "";
      el("heard").textContent = stop ? row + sayings(stop).join(" ") : "All done. Well knitted.";
    }, 300);
  };

  // ---- Pictures

  const SVG = "http://www.w3.org/2000/svg";
  const drawn = (tag, cls, values) => {
    const node = document.createElementNS(SVG, tag);
    for (const [key, value] of Object.entries(values)) node.setAttribute(key, value);
    node.setAttribute("class", cls);
    return node;
  };
  const box = (x, y, width, height, cls) => drawn("rect", cls, { x, y, width, height });
  const mark = (x, width) => drawn("polygon", "touched", { points: `${x},0 ${x + width},0 ${x + width / 2},5` });
  const bed = (stop) => {
    const piece = stop && stop.piece !== null ? walk.pieces[stop.piece] : null;
    const figure = el("bed");
    figure.hidden = !piece || !piece.needles;
    if (figure.hidden) return;
    const [left, right] = piece.needles;
    const svg = el("bed-svg");
    svg.setAttribute("viewBox", `${left} 0 ${right - left + 1} 21`);
    const parts = [box(left, 11, right - left + 1, 9, "idle")];
    for (const [a, b] of stop.held) parts.push(box(a, 6, b - a + 1, 9, "holds"));
    if (stop.pass) {
      for (const [a, b, ribber] of stop.pass.spans) parts.push(box(a, ribber ? 16 : 11, b - a + 1, ribber ? 4 : 9, "knits"));
    }
    for (const deed of stop.deeds) {
      if (deed.needles) parts.push(mark(deed.needles[0], deed.needles[1] - deed.needles[0] + 1));
    }
    svg.replaceChildren(...parts);
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
    const parts = [];
    rows.forEach((row, i) => {
      const y = rows.length - 1 - i;
      // What is still to come is thin: it is told apart without any colour.
      const [cls, down, height] = i === current ? ["now", 0, 0.9] : i < current ? ["past", 0, 0.9] : ["next-row", 0.3, 0.35];
      for (const [a, b] of row.pass.spans) parts.push(box(a, y + down, b - a + 1, height, cls));
    });
    svg.replaceChildren(...parts);
  };

  // ---- The page

  const acknowledged = () => seen === at;
  const waiting = (stop) => Boolean(stop) && stop.changes.length > 0 && !acknowledged();
  const banner = (stop) => {
    const changes = stop ? stop.changes : [];
    el("change").hidden = changes.length === 0;
    el("change").classList.toggle("seen", acknowledged());
    el("changes").replaceChildren(...changes.map((change) => {
      const item = make("li", `of-${change.of}`);
      item.append(make("span", "shape"), make("strong", "of", change.of), " ", make("span", "", change.text));
      return item;
    }));
  };
  const buttons = (stop) => {
    const done = at >= walk.stops.length;
    const more = stop && stop.pass ? stop.pass.more : 0;
    el("back").setAttribute("aria-disabled", String(at === 0));
    el("back").textContent = group && group[1] === at ? `Take back ${rowsIn(group[0], at)} rows` : "Back one";
    const focused = document.activeElement === el("tick");
    el("tick").hidden = done;
    el("finish").hidden = !done;
    if (done && focused) el("finish").focus();
    el("tick").textContent = waiting(stop) ? "Seen, go on" : "Done, next";
    el("tick").classList.toggle("warns", waiting(stop));
    el("rows").hidden = more === 0 || waiting(stop);
    if (more > 0) el("rows").textContent = `Done all ${more + 1} rows, to ${counter(walk.stops[at + more].counter[1])}`;
  };
  const show = () => {
    const of = walk.stops.length;
    const stop = walk.stops[at];
    el("progress").max = of;
    el("progress").value = at;
    const rowsDone = stop ? stop.rows[0] : walk.rows;
    el("done").textContent = `row ${rowsDone} of ${walk.rows}, step ${at} of ${of}`;
    const onBed = stop && stop.piece !== null;
    el("piece").textContent = !stop ? "Done" : onBed ? walk.pieces[stop.piece].title : "Finishing";
    el("counter").textContent = onBed ? counter(stop.counter[0]) : "---";
    el("side").textContent = onBed ? stop.carriage[0] : "off";
    root.dataset.side = onBed ? stop.carriage[0] : "off";
    el("now").replaceChildren(...(stop ? told(stop) : [make("p", "pass", "All done. Well knitted.")]));
    el("now").dataset.length = lengthOf(stop);
    el("next").replaceChildren(...walk.stops.slice(at + 1, at + 4).map((next) => {
      const item = make("li");
      item.append(...told(next));
      return item;
    }));
    banner(stop);
    buttons(stop);
    bed(stop);
    chart();
    carry(stop);
  };
  // What is said of the work in hand is said of this row.
  const carry = (stop) => {
    const first = stop && walk.stops.find((other) => other.piece === stop.piece);
    const onBed = stop && stop.piece !== null;
    const stands = onBed ? `${walk.pieces[stop.piece].name}:+${stop.rows[0] - first.rows[0]}` : "";
    for (const link of document.querySelectorAll("a[data-carry]")) {
      const url = new URL(link.href);
      url.searchParams.set("stands", stands);
      link.href = url.href;
    }
    el("recount").hidden = !onBed;
  };

  const go = (to, together) => {
    const next = Math.max(0, Math.min(walk.stops.length, to));
    if (next === at) return;
    const on = next > at;
    group = together ? [at, next] : null;
    at = next;
    seen = -1;
    unsaved = true;
    keep();
    show();
    scrollTo(0, 0);
    hear();
    if (on) call();
    save();
  };
  const tick = () => {
    // What changes is seen first: the same press, in the same place, goes on after it.
    if (waiting(walk.stops[at])) {
      seen = at;
      keep();
      show();
      return;
    }
    go(at + 1);
  };
  const back = () => go(group && group[1] === at ? group[0] : at - 1);
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
  // To the row of this piece where the counter shows that, the nearest one where it does so twice.
  const recount = (shown) => {
    const here = walk.stops[at];
    let best = -1;
    walk.stops.forEach((stop, i) => {
      const fits = stop.piece === here.piece && stop.counter[0] === shown;
      if (fits && (best < 0 || Math.abs(i - at) < Math.abs(best - at))) best = i;
    });
    if (best < 0) {
      say(`The counter never shows ${counter(shown)} in this piece.`);
      return;
    }
    go(best);
    say(`The page follows your counter: ${counter(shown)}.`);
  };

  // ---- A call for the hands: as the knitter chose on this device

  const choices = { sound: false, buzz: false, voice: false, large: false, ...load(CHOICES) };
  let audio = null;
  const wake = () => {
    if (!choices.sound || !window.AudioContext) return;
    audio = audio || new AudioContext();
    audio.resume();
  };
  const ring = () => {
    wake();
    if (!audio) return;
    [660, 880].forEach((pitch, i) => {
      const tone = audio.createOscillator();
      const loud = audio.createGain();
      const begin = audio.currentTime + i * 0.18;
      tone.frequency.value = pitch;
      loud.gain.setValueAtTime(0.25, begin);
      loud.gain.exponentialRampToValueAtTime(0.001, begin + 0.16);
      tone.connect(loud).connect(audio.destination);
      tone.start(begin);
      tone.stop(begin + 0.17);
    });
  };
  const speak = (text) => {
    if (!window.speechSynthesis) return;
    speechSynthesis.cancel();
    const words = new SpeechSynthesisUtterance(text);
    words.lang = document.documentElement.lang;
    speechSynthesis.speak(words);
  };
  const call = () => {
    const stop = walk.stops[at];
    if (!needsHand(stop)) return;
    if (choices.sound) ring();
    if (choices.buzz && navigator.vibrate) navigator.vibrate(stop.changes.length ? [120, 80, 120] : 120);
    if (choices.voice) speak(sayings(stop).join(" "));
  };
  const choose = () => {
    const can = { sound: Boolean(window.AudioContext), buzz: Boolean(navigator.vibrate), voice: Boolean(window.speechSynthesis), large: true };
    for (const field of el("choices").querySelectorAll("input")) {
      const name = field.name;
      field.disabled = !can[name];
      field.checked = can[name] && Boolean(choices[name]);
      field.addEventListener("change", () => {
        choices[name] = field.checked;
        store(CHOICES, choices);
        root.classList.toggle("large", choices.large);
        wake();
        if (name === "voice" && field.checked) speak("The voice will say it.");
      });
    }
    const lacks = Object.keys(can).filter((name) => !can[name]);
    el("lacks").textContent = lacks.length ? `This browser has no ${lacks.join(" and no ")}.` : "";
    root.classList.toggle("large", choices.large);
    el("choices").hidden = false;
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
      seen = -1;
      group = null;
      show();
      hear();
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
    const own = presses(event.target) && event.target.id !== "tick";
    const forward = event.key === "PageDown" || ((event.key === " " || event.key === "Enter") && !own);
    const backward = event.key === "PageUp" || event.key === "Backspace" || event.key === "u" || event.key === "U";
    if (!forward && !backward) return;
    // At the end the button leads on to the scale: that is a link like any other.
    if (forward && walk && at >= walk.stops.length) return;
    event.preventDefault();
    // A foot that stays on the pedal is one step.
    if (event.repeat || !walk) return;
    if (forward) tick(); else back();
  });
  const press = (name, action) => el(name).addEventListener("click", (event) => {
    event.preventDefault();
    action();
  });
  const sent = (name, action) => el(name).addEventListener("submit", (event) => {
    event.preventDefault();
    const field = event.target.querySelector("input[type=number]");
    if (field.value !== "") action(Number(field.value));
  });

  const begin = async () => {
    const answer = await fetch(walkUrl);
    if (!answer.ok) throw new Error("no walk");
    walk = unfold(await answer.json());
    const mine = load(KEY);
    if (mine && Number.isInteger(mine.at)) {
      revision = mine.revision || 0;
      unsaved = Boolean(mine.unsaved);
      at = Math.max(0, Math.min(walk.stops.length, mine.at));
      seen = mine.seen ?? -1;
      group = Array.isArray(mine.group) ? mine.group : null;
    }
    press("tick", tick);
    press("back", back);
    press("rows", () => {
      const stop = walk.stops[at];
      go(at + 1 + (stop && stop.pass ? stop.pass.more : 0), true);
    });
    el("rip").hidden = false;
    sent("rip", (rows) => { if (rows > 0) ripBack(rows); });
    sent("recount", recount);
    choose();
    root.classList.add("live");
    show();
    await look();
    setInterval(look, POLL_MS);
    stayAwake();
    document.addEventListener("visibilitychange", () => { stayAwake(); look(); });
  };
  begin().catch(() => say("The way could not be loaded: the links still work."));
})();
