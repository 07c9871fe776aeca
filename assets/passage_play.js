/* Replay: the passage in chunks of seconds, the clock that plays them, the jumps, and the keys. */
(function () {
  "use strict";

  const sternlog = (window.sternlog = window.sternlog || {});
  const FIELDS = 9;
  const MOST_CHUNKS = 24;
  const JOINED_MS = 4000;
  const JUMP_MS = 500;
  const chunks = new Map();
  const waiting = new Map();
  const nothing = () => {};
  const byId = (id) => document.getElementById(id);
  const state = () => sternlog.state;

  let starts = null;
  const startsOf = () => (starts = starts || JSON.parse(sternlog.facts().chunks));

  /* The last of the ascending values at or before a time, 0 where there is none. */
  function lastBefore(values, timeMs) {
    let [low, high] = [0, values.length];
    while (high - low > 1) {
      const middle = (low + high) >> 1;
      if (values[middle] <= timeMs) low = middle;
      else high = middle;
    }
    return low;
  }

  /* Fetch a chunk once; all who ask for it meanwhile are told when it is here. */
  async function load(number, then) {
    if (chunks.has(number) || number >= startsOf().length) return;
    if (waiting.has(number)) {
      waiting.get(number).add(then);
      return;
    }
    waiting.set(number, new Set([then]));
    try {
      const reply = await fetch(`chunk?number=${number}`);
      if (!reply.ok) throw new Error(reply.statusText);
      const packed = await reply.arrayBuffer();
      const count = packed.byteLength / (8 + 4 * FIELDS);
      chunks.set(number, {
        time: new Float64Array(packed, 0, count),
        fields: new Float32Array(packed, 8 * count),
        count,
      });
      if (chunks.size > MOST_CHUNKS) chunks.delete(chunks.keys().next().value);
      waiting.get(number).forEach((one) => one());
    } catch {
      document.body.classList.add("lost");
    } finally {
      waiting.delete(number);
    }
  }

  /* What the boat did at a time: the two seconds around it, blended. Undefined while it is being fetched. */
  sternlog.rowAt = (timeMs, then) => {
    const number = lastBefore(startsOf(), timeMs);
    load(number, then);
    if (state().playing) load(number + 1, nothing);
    const chunk = chunks.get(number);
    if (!chunk) return undefined;
    const { time, fields, count } = chunk;
    const before = lastBefore(time, timeMs);
    const after = Math.min(before + 1, count - 1);
    const apart = time[after] - time[before];
    const share = apart > 0 ? Math.min(1, Math.max(0, (timeMs - time[before]) / apart)) : 0;
    const weight = apart > JOINED_MS ? Math.round(share) : share;
    const blend = (field) => {
      const [one, other] = [fields[field * count + before], fields[field * count + after]];
      if (Number.isNaN(one) || Number.isNaN(other)) return weight < 0.5 ? one : other;
      return one + (other - one) * weight;
    };
    const [first, second] = [fields[2 * count + before], fields[2 * count + after]];
    const turn = ((second - first + 540) % 360) - 180;
    return {
      east: blend(0),
      north: blend(1),
      heading: Number.isNaN(turn) ? first : first + turn * weight,
      water: [blend(3), blend(4)],
      ground: [blend(5), blend(6)],
      air: [blend(7), blend(8)],
    };
  };

  const endMs = () => Number(sternlog.facts().end);
  const within = (timeMs) => Math.min(endMs(), Math.max(startsOf()[0], timeMs));
  const say = (words) => { byId("said").textContent = words; };
  const pace = () => Number(byId("replay-pace").value);

  let lastFrame = 0;
  function frame(now) {
    if (!state().playing) return;
    const timeMs = state().timeMs + Math.min(now - lastFrame, 250) * pace();
    lastFrame = now;
    const { span } = state();
    if (span && timeMs > span[1]) sternlog.setSpan([span[1], 2 * span[1] - span[0]]);
    sternlog.moveTo(within(timeMs));
    if (timeMs >= endMs()) sternlog.pause();
    else window.requestAnimationFrame(frame);
  }

  function play() {
    if (state().timeMs >= endMs()) sternlog.moveTo(startsOf()[0]);
    state().playing = true;
    sternlog.hold(true);
    byId("replay-play").textContent = "Pause";
    lastFrame = performance.now();
    window.requestAnimationFrame(frame);
  }

  sternlog.pause = () => {
    if (!state().playing) return;
    state().playing = false;
    byId("replay-play").textContent = "Play";
    sternlog.hold(true);
  };

  function step(strides) {
    sternlog.pause();
    const axis = sternlog.timeAxis();
    const span = axis ? axis.time(axis.length) - axis.time(0) : endMs() - startsOf()[0];
    sternlog.moveTo(within(state().timeMs + strides * Math.max(1000, span / 400)));
    sternlog.hold(true);
  }

  function goTo(timeMs, words) {
    sternlog.pause();
    sternlog.moveTo(within(timeMs));
    sternlog.hold(true);
    const { span } = state();
    const half = span ? (span[1] - span[0]) / 2 : 0;
    if (span && (timeMs < span[0] || timeMs > span[1])) sternlog.setSpan([timeMs - half, timeMs + half]);
    say(words || "");
  }

  sternlog.goTo = goTo;

  function jump(way, kind) {
    const wanted = sternlog.happened().filter((one) => (kind === "any" ? one.kind !== "leg" : one.kind === kind));
    const found = way > 0
      ? wanted.find((one) => one.t > state().timeMs + JUMP_MS)
      : wanted.findLast((one) => one.t < state().timeMs - JUMP_MS);
    if (found) goTo(found.t, found.words);
    else say(`No ${kind === "any" ? "manoeuvre, finding or mark" : kind} ${way > 0 ? "after" : "before"} this.`);
  }

  function changePace(way) {
    const select = byId("replay-pace");
    select.selectedIndex = Math.min(select.options.length - 1, Math.max(0, select.selectedIndex + way));
    say(`Pace ${select.options[select.selectedIndex].textContent}`);
  }

  const letters = () => window.localStorage.getItem("letters") !== "off";
  function switchLetters() {
    window.localStorage.setItem("letters", letters() ? "off" : "on");
    byId("keys-letters").textContent = `Turn letter keys ${letters() ? "off" : "on"}`;
  }

  function openKeys() {
    byId("keys-letters").textContent = `Turn letter keys ${letters() ? "off" : "on"}`;
    byId("keys").showModal();
  }

  const toggle = () => (state().playing ? sternlog.pause() : play());
  const chosenJump = () => byId("replay-jump").value;
  const whole = () => sternlog.setSpan(null);

  /* Which strips to draw is a cookie; the page is drawn again by it. */
  function drawStrips(chosen) {
    document.cookie = `strips=${chosen.join(".")}; SameSite=Strict; Max-Age=${chosen.length ? 31536000 : 0}; Path=/`;
    window.location.reload();
  }

  const pressedStrips = () =>
    [...document.querySelectorAll("[data-strip][aria-pressed=true]")].map((button) => button.dataset.strip);

  const buttons = {
    "draw-strips": () => drawStrips(pressedStrips()),
    "usual-strips": () => drawStrips([]),
    "replay-play": toggle,
    "replay-back": () => step(-1),
    "replay-on": () => step(1),
    "replay-before": () => jump(-1, chosenJump()),
    "replay-next": () => jump(1, chosenJump()),
    "keys-open": openKeys,
    "keys-close": () => byId("keys").close(),
    "keys-letters": switchLetters,
    "triangle-up": () => sternlog.turnTriangle(),
  };

  const keys = {
    " ": toggle,
    ArrowLeft: (event) => step(event.shiftKey ? -10 : -1),
    ArrowRight: (event) => step(event.shiftKey ? 10 : 1),
    Home: () => goTo(startsOf()[0]),
    End: () => goTo(endMs()),
    Escape: () => {
      sternlog.pause();
      if (sternlog.isPlacing()) sternlog.placing(false);
      else sternlog.hold(false);
    },
  };
  const signs = {
    "-": () => changePace(-1),
    "+": () => changePace(1),
    ",": () => jump(-1, chosenJump()),
    ".": () => jump(1, chosenJump()),
    m: (event) => jump(event.shiftKey ? -1 : 1, "manoeuvre"),
    f: (event) => jump(event.shiftKey ? -1 : 1, "finding"),
    k: (event) => jump(event.shiftKey ? -1 : 1, "mark"),
    p: () => sternlog.markBoat(),
    h: () => { sternlog.pause(); sternlog.hold(!state().held); },
    t: () => sternlog.turnTriangle(),
    w: whole,
    "?": openKeys,
  };

  document.addEventListener("click", (event) => {
    const button = event.target.closest("button");
    if (!button) return;
    if (button.classList.contains("toggle")) {
      button.setAttribute("aria-pressed", String(button.getAttribute("aria-pressed") !== "true"));
      if (button.dataset.layer) sternlog.keepLayers();
    }
    if (buttons[button.id]) buttons[button.id]();
  });

  document.addEventListener("keydown", (event) => {
    const { target } = event;
    if (!byId("replay-play") || event.ctrlKey || event.altKey || event.metaKey || byId("keys").open) return;
    if (target.closest("input, select, textarea, summary, .dash-dropdown, [role=listbox], .happenings")) return;
    if (target.closest("button, a") && (event.key === " " || event.key === "Enter")) return;
    const action = keys[event.key] || (letters() && signs[event.key.toLowerCase()]);
    if (!action) return;
    if (event.key !== "Escape") event.preventDefault();
    action(event);
  });
})();
