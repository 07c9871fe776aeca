/* The cursor: one moment shown in the strips, on the track and in the readings; and the brush, which chooses
   a span of time. Everything that reaches into plotly's own fields (_fullLayout and its axes) stands in this file;
   passage_play.js, passage_overlay.js and passage_triangle.js hang on to window.sternlog. */
(function () {
  "use strict";

  const sternlog = (window.sternlog = window.sternlog || {});
  const byId = (id) => document.getElementById(id);
  const plotOf = (id) => document.querySelector(`#${id} .js-plotly-plot`);
  const LEAST_SPAN_MS = 10000;
  const ASK_EVERY_MS = 110;
  const state = { timeMs: null, held: false, playing: false, span: null, stretch: [], asked: null, busy: false };
  const facts = () => byId("desk").dataset;
  const offsetMs = () => Number(facts().offset);

  /* The address keeps the moment and the span, so that a page drawn again shows them again. */
  const kept = new URLSearchParams(window.location.hash.slice(1));

  const axesOf = (plot) => {
    const full = plot && plot._fullLayout;
    return full && full.xaxis && full.yaxis && full.xaxis._length ? full : null;
  };

  /* Time to pixels within the strips, and back. */
  const timeAxis = () => {
    const full = axesOf(plotOf("strips"));
    if (!full) return null;
    const axis = full.xaxis;
    return {
      left: axis._offset,
      length: axis._length,
      at: (timeMs) => axis.c2p(timeMs + offsetMs()),
      time: (pixel) => axis.p2c(pixel) - offsetMs(),
    };
  };

  /* Places on the plane [nm] to pixels within the track's paper, and back. */
  const plane = () => {
    const full = axesOf(plotOf("track"));
    if (!full) return null;
    const { xaxis, yaxis } = full;
    return {
      left: xaxis._offset,
      top: yaxis._offset,
      width: xaxis._length,
      height: yaxis._length,
      below: full.height - yaxis._offset - yaxis._length,
      at: (east, north) => [xaxis.c2p(east), yaxis.c2p(north)],
      place: (x, y) => [xaxis.p2c(x), yaxis.p2c(y)],
      box: () => [xaxis.range[0], yaxis.range[0], xaxis.range[1], yaxis.range[1]].map(Number),
    };
  };

  function placeCursor() {
    const axis = timeAxis();
    const line = byId("cursor");
    if (!axis || !line || state.timeMs === null) return;
    const at = axis.at(state.timeMs);
    line.hidden = at < -1 || at > axis.length + 1;
    line.style.transform = `translateX(${axis.left + at}px)`;
    line.classList.toggle("late", at > axis.length * 0.8);
  }

  function placeBoat(row) {
    const chart = plane();
    const boat = byId("boat");
    if (!chart || !boat) return;
    if (!row || Number.isNaN(row.east)) {
      boat.hidden = true;
      return;
    }
    const [x, y] = chart.at(row.east, row.north);
    boat.hidden = x < 0 || y < 0 || x > chart.width || y > chart.height;
    boat.style.transform = `translate(${chart.left + x}px, ${chart.top + y}px)`;
  }

  function placeScale() {
    const chart = plane();
    const bar = byId("scale");
    if (!chart || !bar) return;
    const nmPerPixel = Math.abs(chart.place(chart.width, 0)[0] - chart.place(0, 0)[0]) / chart.width;
    const longest = nmPerPixel * Math.min(160, chart.width / 3);
    const unit = longest < 0.1 ? 1 / 1852 : 1;
    const power = unit * 10 ** Math.floor(Math.log10(longest / unit));
    const length = [5, 2, 1].map((part) => part * power).find((part) => part <= longest * 1.0001);
    bar.style.width = `${length / nmPerPixel}px`;
    bar.style.left = `${chart.left + 12}px`;
    bar.style.bottom = `${chart.below + 12}px`;
    byId("scale-text").textContent = `${Number((length / unit).toPrecision(1))} ${unit === 1 ? "nm" : "m"}`;
  }

  const pathOf = (chart, places) => {
    let pen = "M";
    return places.map((place) => {
      if (!place) { pen = "M"; return ""; }
      const [x, y] = chart.at(place[0], place[1]);
      const step = `${pen}${x.toFixed(1)},${y.toFixed(1)}`;
      pen = "L";
      return step;
    }).join("");
  };

  /* The part of the track within the span: two lines along it, so that its colours stay. */
  function placeOutline() {
    const chart = plane();
    const paper = byId("outline");
    if (!chart || !paper) return;
    const path = pathOf(chart, state.stretch);
    paper.style.cssText =
      `left:${chart.left}px;top:${chart.top}px;width:${chart.width}px;height:${chart.height}px`;
    paper.innerHTML = path && `<svg width="100%" height="100%"><mask id="inside" maskUnits="userSpaceOnUse"
      x="0" y="0" width="100%" height="100%"><rect width="100%" height="100%" fill="#fff"/>
      <path class="core" d="${path}"/></mask><path class="edge" mask="url(#inside)" d="${path}"/></svg>`;
  }

  /* Everything that moves with the cursor and needs no answer from the server. */
  function paint() {
    if (state.timeMs === null) return;
    placeCursor();
    const row = sternlog.rowAt(state.timeMs, paint);
    if (row === undefined) return;
    placeBoat(row);
    sternlog.drawTriangle(row);
  }

  function show(moment) {
    byId("clock").textContent = moment.clock;
    const label = byId("cursor-time");
    if (label) label.textContent = moment.time_of_day;
    document.querySelectorAll("[data-channel]").forEach((cell) => {
      const text = moment.texts[cell.dataset.channel] ?? "–";
      if (cell.textContent !== text) cell.textContent = text;
    });
  }

  /* One question at a time, and not faster than one can read; the newest waits. */
  async function ask(question) {
    state.asked = question;
    if (state.busy) return;
    state.busy = true;
    while (state.asked) {
      const current = state.asked;
      state.asked = null;
      try {
        const reply = await fetch(`at?${new URLSearchParams(current.query)}`);
        if (reply.ok) current.then(await reply.json());
      } catch {
        document.body.classList.add("lost");
      }
      if (state.playing) await new Promise((done) => { setTimeout(done, ASK_EVERY_MS); });
    }
    state.busy = false;
  }

  function moveTo(timeMs) {
    state.timeMs = timeMs;
    paint();
    ask({ query: { time_ms: Math.round(timeMs) }, then: show });
  }

  function keep() {
    const words = new URLSearchParams();
    if (state.held && state.timeMs !== null) words.set("at", Math.round(state.timeMs));
    if (state.span) words.set("span", state.span.map(Math.round).join("-"));
    const hash = words.toString();
    window.history.replaceState(null, "", hash ? `#${hash}` : window.location.pathname);
  }

  function hold(on) {
    state.held = on;
    document.body.classList.toggle("holding", on);
    byId("held").textContent = state.playing ? "" : on ? "held: click again or press Esc to let go" : "";
    keep();
  }

  function setSpan(span) {
    window.dash_clientside.set_props("span", { data: span });
  }

  function overStrips(event) {
    const axis = timeAxis();
    if (!axis || state.held || event.buttons) return;
    const at = event.clientX - plotOf("strips").getBoundingClientRect().left - axis.left;
    if (at >= 0 && at <= axis.length) moveTo(axis.time(at));
  }

  /* Where a pointer stands over the strips: pixels into the time axis, kept within it. */
  function pixelOf(event) {
    const axis = timeAxis();
    const at = event.clientX - plotOf("strips").getBoundingClientRect().left - axis.left;
    return Math.min(axis.length, Math.max(0, at));
  }

  function placeBrush(from, to) {
    const brush = byId("brush");
    brush.hidden = from === to;
    brush.style.left = `${timeAxis().left + Math.min(from, to)}px`;
    brush.style.width = `${Math.abs(to - from)}px`;
  }

  function choose(from, to) {
    const axis = timeAxis();
    const [start, end] = [Math.min(from, to), Math.max(from, to)].map((pixel) => axis.time(pixel));
    const more = Math.max(0, LEAST_SPAN_MS - (end - start)) / 2;
    setSpan([start - more, end + more]);
  }

  function brushStrips(paper) {
    let from = null;
    const drop = () => { from = null; placeBrush(0, 0); };
    paper.addEventListener("pointerdown", (event) => {
      const inside = event.clientX - plotOf("strips").getBoundingClientRect().left;
      const axis = timeAxis();
      if (event.button !== 0 || inside < axis.left || inside > axis.left + axis.length) return;
      from = pixelOf(event);
      paper.setPointerCapture(event.pointerId);
    });
    paper.addEventListener("pointermove", (event) => { if (from !== null) placeBrush(from, pixelOf(event)); });
    paper.addEventListener("pointerup", (event) => {
      if (from === null) return;
      const [start, end] = [from, pixelOf(event)];
      drop();
      if (Math.abs(end - start) >= 4) choose(start, end);
    });
    paper.addEventListener("pointercancel", drop);
    document.addEventListener("keydown", (event) => { if (event.key === "Escape") drop(); });
    paper.addEventListener("dblclick", () => setSpan(null));
  }

  /* The place on the plane [nm] under a pointer; null beside the chart. */
  function placeUnder(event) {
    const chart = plane();
    if (!chart) return null;
    const box = plotOf("track").getBoundingClientRect();
    const x = event.clientX - box.left - chart.left;
    const y = event.clientY - box.top - chart.top;
    return x < 0 || y < 0 || x > chart.width || y > chart.height ? null : chart.place(x, y);
  }

  function overTrack(event) {
    const place = state.held || event.buttons ? null : placeUnder(event);
    if (!place) return;
    const [east, north] = place;
    ask({
      query: { east_nm: east, north_nm: north },
      then: (moment) => {
        const [x, y] = plane().at(east, north);
        const [nearX, nearY] = plane().at(moment.east_nm, moment.north_nm);
        if (Math.hypot(nearX - x, nearY - y) > 40) return;
        state.timeMs = moment.time_ms;
        paint();
        show(moment);
      },
    });
  }

  function listen(paper, over) {
    let down = null;
    paper.addEventListener("pointermove", over, { passive: true });
    paper.addEventListener("pointerdown", (event) => { down = [event.clientX, event.clientY]; }, true);
    window.addEventListener("pointerup", (event) => {
      const still = down && Math.hypot(event.clientX - down[0], event.clientY - down[1]) < 4;
      const inside = paper.contains(event.target) || event.target.closest(".dragcover");
      down = null;
      if (!still || !inside || event.target.closest(".modebar, .readings, .happening")) return;
      if (sternlog.isPlacing() && paper.id === "track-paper") {
        const place = placeUnder(event);
        if (place) sternlog.placeMark(...place);
        return;
      }
      const was = state.held;
      sternlog.pause();
      hold(false);
      over(event);
      hold(!was);
    }, true);
  }

  let seenBox = "";
  function tellView() {
    const box = plane().box();
    const written = box.map((edge) => edge.toPrecision(5)).join();
    if (written === seenBox) return;
    seenBox = written;
    window.dash_clientside.set_props("view", { data: box });
  }

  function adopt(id, redraw) {
    const plot = plotOf(id);
    if (!plot || plot.dataset.adopted || !axesOf(plot) || !plot.on || !byId("desk")) return;
    plot.dataset.adopted = "yes";
    plot.on("plotly_afterplot", redraw);
    if (id === "strips") {
      const paper = byId("strips-paper");
      listen(paper, overStrips);
      brushStrips(paper);
      const span = (kept.get("span") || "").split("-").map(Number);
      if (span.length === 2 && span.every(Number.isFinite)) setSpan(span);
    } else {
      plot.on("plotly_relayouting", () => { paint(); placeScale(); placeOutline(); sternlog.drawOverlay(); });
      listen(byId("track-paper"), overTrack);
      sternlog.recallMarks();
    }
    redraw();
  }

  function begin() {
    if (state.timeMs !== null || !byId("desk") || !byId("desk").dataset.first) return;
    const at = Number(kept.get("at"));
    moveTo(at || Number(facts().first));
    if (at) hold(true);
  }

  setInterval(() => {
    begin();
    adopt("strips", () => { placeCursor(); sternlog.drawHappened(); });
    adopt("track", () => { paint(); placeScale(); placeOutline(); sternlog.drawOverlay(); tellView(); });
  }, 50);

  Object.assign(sternlog, { state, byId, facts, timeAxis, plane, pathOf, moveTo, hold, keep, setSpan, paint });

  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    passage: {
      whole: () => null,
      go(address) {
        if (address) window.location.assign(address);
        return window.dash_clientside.no_update;
      },
      outline(stretch, span) {
        state.stretch = stretch || [];
        state.span = span || null;
        placeOutline();
        if (state.timeMs !== null) keep();
      },
      overlay(arrows, extremes) {
        sternlog.setOverlay(arrows || [], extremes || []);
      },
    },
  });
})();
