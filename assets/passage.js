/* The cursor: one moment shown in the strips, on the track and in the readings; and the brush, which chooses
   a span of time. Everything that reaches into plotly's own fields (_fullLayout and its axes) stands in this file. */
(function () {
  "use strict";

  const byId = (id) => document.getElementById(id);
  const plotOf = (id) => document.querySelector(`#${id} .js-plotly-plot`);
  const LEAST_SPAN_MS = 10000;
  const state = { timeMs: null, moment: null, held: false, asked: null, busy: false, stretch: [] };

  const axesOf = (plot) => {
    const full = plot && plot._fullLayout;
    return full && full.xaxis && full.yaxis && full.xaxis._length ? full : null;
  };

  function placeCursor() {
    const full = axesOf(plotOf("strips"));
    const line = byId("cursor");
    if (!full || !line || state.timeMs === null) return;
    const axis = full.xaxis;
    const at = axis.c2p(state.timeMs);
    line.hidden = at < -1 || at > axis._length + 1;
    line.style.transform = `translateX(${axis._offset + at}px)`;
    line.classList.toggle("late", at > axis._length * 0.8);
  }

  function placeBoat() {
    const full = axesOf(plotOf("track"));
    const boat = byId("boat");
    if (!full || !boat) return;
    const moment = state.moment;
    if (!moment || moment.east_nm === null) {
      boat.hidden = true;
      return;
    }
    const x = full.xaxis.c2p(moment.east_nm);
    const y = full.yaxis.c2p(moment.north_nm);
    boat.hidden = x < 0 || y < 0 || x > full.xaxis._length || y > full.yaxis._length;
    boat.style.transform = `translate(${full.xaxis._offset + x}px, ${full.yaxis._offset + y}px)`;
  }

  function placeScale() {
    const full = axesOf(plotOf("track"));
    const bar = byId("scale");
    if (!full || !bar) return;
    const axis = full.xaxis;
    const nmPerPixel = Math.abs(axis.p2c(axis._length) - axis.p2c(0)) / axis._length;
    const longest = nmPerPixel * Math.min(160, axis._length / 3);
    const unit = longest < 0.1 ? 1 / 1852 : 1;
    const power = unit * 10 ** Math.floor(Math.log10(longest / unit));
    const length = [5, 2, 1].map((part) => part * power).find((part) => part <= longest * 1.0001);
    bar.style.width = `${length / nmPerPixel}px`;
    bar.style.left = `${axis._offset + 12}px`;
    bar.style.bottom = `${full.height - full.yaxis._offset - full.yaxis._length + 12}px`;
    byId("scale-text").textContent =
      `${Number((length / unit).toPrecision(1))} ${unit === 1 ? "nm" : "m"}`;
  }

  /* The part of the track within the span: two lines along it, so that its colours stay. */
  function placeOutline() {
    const full = axesOf(plotOf("track"));
    const paper = byId("outline");
    if (!full || !paper) return;
    let pen = "M";
    const path = state.stretch.map((place) => {
      if (!place) { pen = "M"; return ""; }
      const step = `${pen}${full.xaxis.c2p(place[0]).toFixed(1)},${full.yaxis.c2p(place[1]).toFixed(1)}`;
      pen = "L";
      return step;
    }).join("");
    const { _offset: left, _length: width } = full.xaxis;
    const { _offset: top, _length: height } = full.yaxis;
    paper.style.cssText = `left:${left}px;top:${top}px;width:${width}px;height:${height}px`;
    paper.innerHTML = path && `<svg width="100%" height="100%"><mask id="inside" maskUnits="userSpaceOnUse"
      x="0" y="0" width="100%" height="100%"><rect width="100%" height="100%" fill="#fff"/>
      <path class="core" d="${path}"/></mask><path class="edge" mask="url(#inside)" d="${path}"/></svg>`;
  }

  function show(moment) {
    state.moment = moment;
    byId("clock").textContent = moment.clock;
    byId("cursor-time").textContent = moment.time_of_day;
    document.querySelectorAll("[data-channel]").forEach((cell) => {
      cell.textContent = moment.texts[cell.dataset.channel] ?? "–";
    });
    placeBoat();
  }

  /* One question at a time; the newest waits. */
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
    }
    state.busy = false;
  }

  function moveTo(timeMs) {
    state.timeMs = timeMs;
    placeCursor();
    ask({ query: { time_ms: timeMs }, then: show });
  }

  function hold(on) {
    state.held = on;
    document.body.classList.toggle("holding", on);
    byId("held").textContent = on ? "held: click again or press Esc to let go" : "";
  }

  function overStrips(event) {
    const full = axesOf(plotOf("strips"));
    if (!full || state.held || event.buttons) return;
    const axis = full.xaxis;
    const at = event.clientX - plotOf("strips").getBoundingClientRect().left - axis._offset;
    if (at >= 0 && at <= axis._length) moveTo(axis.p2c(at));
  }

  /* Where a pointer stands over the strips: pixels into the time axis, kept within it. */
  function pixelOf(event) {
    const axis = axesOf(plotOf("strips")).xaxis;
    const at = event.clientX - plotOf("strips").getBoundingClientRect().left - axis._offset;
    return Math.min(axis._length, Math.max(0, at));
  }

  function placeBrush(from, to) {
    const brush = byId("brush");
    brush.hidden = from === to;
    brush.style.left = `${axesOf(plotOf("strips")).xaxis._offset + Math.min(from, to)}px`;
    brush.style.width = `${Math.abs(to - from)}px`;
  }

  function choose(from, to) {
    const axis = axesOf(plotOf("strips")).xaxis;
    const [start, end] = [Math.min(from, to), Math.max(from, to)].map((pixel) => axis.p2c(pixel));
    const more = Math.max(0, LEAST_SPAN_MS - (end - start)) / 2;
    window.dash_clientside.set_props("span", { data: [start - more, end + more] });
  }

  function brushStrips(paper) {
    let from = null;
    const drop = () => { from = null; placeBrush(0, 0); };
    paper.addEventListener("pointerdown", (event) => {
      const inside = event.clientX - plotOf("strips").getBoundingClientRect().left;
      const axis = axesOf(plotOf("strips")).xaxis;
      if (event.button !== 0 || inside < axis._offset || inside > axis._offset + axis._length) return;
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
    paper.addEventListener("dblclick", () => window.dash_clientside.set_props("span", { data: null }));
  }

  function overTrack(event) {
    const full = axesOf(plotOf("track"));
    if (!full || state.held || event.buttons) return;
    const box = plotOf("track").getBoundingClientRect();
    const x = event.clientX - box.left - full.xaxis._offset;
    const y = event.clientY - box.top - full.yaxis._offset;
    if (x < 0 || y < 0 || x > full.xaxis._length || y > full.yaxis._length) return;
    ask({
      query: { east_nm: full.xaxis.p2c(x), north_nm: full.yaxis.p2c(y) },
      then: (moment) => {
        const off = Math.hypot(full.xaxis.c2p(moment.east_nm) - x, full.yaxis.c2p(moment.north_nm) - y);
        if (off > 40) return;
        state.timeMs = moment.time_ms;
        placeCursor();
        show(moment);
      },
    });
  }

  function onKey(event) {
    if (event.key === "Escape") hold(false);
    const step = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
    const full = axesOf(plotOf("strips"));
    if (!step || !full || state.timeMs === null || event.currentTarget !== byId("strips-paper")) return;
    event.preventDefault();
    const [start, end] = full.xaxis.range.map((edge) => full.xaxis.r2c(edge));
    const stride = Math.max(1000, (end - start) / (event.shiftKey ? 40 : 400));
    moveTo(Math.min(end, Math.max(start, state.timeMs + step * stride)));
  }

  function listen(paper, over) {
    let down = null;
    paper.addEventListener("pointermove", over, { passive: true });
    paper.addEventListener("pointerdown", (event) => { down = [event.clientX, event.clientY]; }, true);
    window.addEventListener("pointerup", (event) => {
      const still = down && Math.hypot(event.clientX - down[0], event.clientY - down[1]) < 4;
      const inside = paper.contains(event.target) || event.target.closest(".dragcover");
      down = null;
      if (!still || !inside || event.target.closest(".modebar, .readings")) return;
      const was = state.held;
      hold(false);
      over(event);
      hold(!was);
    }, true);
  }

  function adopt(id, redraw) {
    const plot = plotOf(id);
    if (!plot || plot.dataset.adopted || !axesOf(plot) || !plot.on) return;
    plot.dataset.adopted = "yes";
    plot.on("plotly_afterplot", redraw);
    redraw();
    if (id === "strips") {
      const paper = byId("strips-paper");
      listen(paper, overStrips);
      brushStrips(paper);
      paper.addEventListener("keydown", onKey);
      document.addEventListener("keydown", onKey);
      if (state.timeMs === null) moveTo(Number(paper.dataset.first));
    } else {
      plot.on("plotly_relayouting", redraw);
      listen(plot, overTrack);
    }
  }

  setInterval(() => {
    adopt("strips", placeCursor);
    adopt("track", () => { placeBoat(); placeScale(); placeOutline(); });
  }, 100);

  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    passage: {
      whole() {
        return null;
      },
      outline(stretch) {
        state.stretch = stretch || [];
        placeOutline();
      },
    },
  });
})();
