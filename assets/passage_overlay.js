/* What lies over the track, moved with it: arrows of wind and current, extremes, and what happened; and the same
   happenings as ticks over the strips. All words come from the server and are set as text. */
(function () {
  "use strict";

  const sternlog = (window.sternlog = window.sternlog || {});
  const SVG = "http://www.w3.org/2000/svg";
  const APART_PX = 13;
  const TICKS_APART_PX = 3;
  const byId = (id) => document.getElementById(id);
  const drawn = { arrows: [], extremes: [], layers: new Set(), buttons: null, svg: null };

  let logged = null;
  let list = null;
  sternlog.happened = () => {
    logged = logged || JSON.parse(sternlog.facts().happened);
    return (list = list || logged);
  };

  /* Marks of the reader's own stand among what happened. */
  sternlog.setOwnMarks = (marks) => {
    sternlog.happened();
    list = [...logged, ...marks].sort((one, other) => one.t - other.t);
    drawn.svg = null;
    sternlog.drawOverlay();
    sternlog.drawHappened();
  };

  const element = (name, attributes, words) => {
    const made = document.createElementNS(SVG, name);
    Object.entries(attributes).forEach(([key, value]) => made.setAttribute(key, value));
    if (words) made.appendChild(document.createElementNS(SVG, "title")).textContent = words;
    return made;
  };

  sternlog.setOverlay = (arrows, extremes) => {
    Object.assign(drawn, { arrows, extremes });
    sternlog.drawOverlay();
  };

  /* The layers are kept for the next visit. */
  const layerButtons = () => [...document.querySelectorAll("[data-layer]")];
  sternlog.keepLayers = () => {
    const pressed = layerButtons().filter((button) => button.getAttribute("aria-pressed") === "true");
    drawn.layers = new Set(pressed.map((button) => button.dataset.layer));
    window.localStorage.setItem("layers", [...drawn.layers].join());
    sternlog.drawOverlay();
    sternlog.drawHappened();
  };

  function recallLayers() {
    const kept = window.localStorage.getItem("layers");
    layerButtons().forEach((button) => {
      if (kept !== null) button.setAttribute("aria-pressed", String(kept.split(",").includes(button.dataset.layer)));
    });
    sternlog.keepLayers();
  }

  function arrow(kind, piece, x, y) {
    const group = element("g", { class: kind, transform: `translate(${x},${y}) rotate(${piece.deg})` }, piece.words);
    if (kind === "wind") {
      const length = Math.min(46, 14 + 1.4 * piece.kn);
      group.append(element("path", { d: `M0,${-length}V-4M-4.5,-11L0,-3L4.5,-11M0,${-length}l5,-4` }));
    } else {
      const length = Math.min(50, 9 + 14 * piece.kn);
      group.append(element("path", { d: `M0,0V${8 - length}` }));
      group.append(element("path", { class: "head", d: `M0,${-length}l4.5,10h-9z` }));
    }
    return group;
  }

  function drawSvg(chart) {
    const { svg } = drawn;
    svg.replaceChildren();
    svg.setAttribute("width", chart.width);
    svg.setAttribute("height", chart.height);
    if (drawn.layers.has("finding")) {
      sternlog.happened().filter((one) => one.path).forEach((one) => {
        svg.append(element("path", { class: "finding-stretch", d: sternlog.pathOf(chart, one.path) }, one.words));
      });
    }
    drawn.arrows.forEach((piece) => {
      const [x, y] = chart.at(piece.x, piece.y);
      ["current", "wind"].filter((kind) => piece[kind] && drawn.layers.has(kind))
        .forEach((kind) => svg.append(arrow(kind, piece[kind], x, y)));
    });
    if (!drawn.layers.has("extremes")) return;
    drawn.extremes.forEach((piece) => {
      const [x, y] = chart.at(piece.x, piece.y);
      const group = element("g", { class: "extreme", transform: `translate(${x},${y})` }, piece.words);
      const left = x > chart.width - 90;
      group.append(element("path", { d: "M0,-7L7,0L0,7L-7,0z" }));
      const text = element("text", { x: left ? -11 : 11, y: 5, "text-anchor": left ? "end" : "start" });
      text.textContent = piece.text;
      group.append(text);
      svg.append(group);
    });
  }

  function tell(button) {
    const tip = byId("overlay-tip");
    tip.hidden = !button;
    if (!button) return;
    tip.textContent = button.dataset.words;
    const [x, y] = [parseFloat(button.style.left), parseFloat(button.style.top)];
    tip.style.left = `${Math.max(0, Math.min(x, parseFloat(byId("overlay").style.width) - 230))}px`;
    tip.style.top = `${y + 14}px`;
  }

  function makeButtons(paper) {
    drawn.svg = element("svg", { "aria-hidden": "true" });
    const group = document.createElement("div");
    group.className = "happenings";
    group.setAttribute("role", "group");
    group.setAttribute("aria-label", "What happened on the track. Arrow keys go from one to the next, Enter moves the cursor there.");
    const tip = document.createElement("div");
    tip.id = "overlay-tip";
    tip.hidden = true;
    drawn.buttons = sternlog.happened().filter((one) => one.x !== null).map((one) => {
      const button = document.createElement("button");
      button.className = `happening ${one.kind}`;
      button.dataset.words = one.words;
      button.setAttribute("aria-label", one.words);
      button.tabIndex = -1;
      button.addEventListener("click", () => sternlog.goTo(one.t, one.words));
      ["mouseenter", "focus"].forEach((name) => button.addEventListener(name, () => tell(button)));
      ["mouseleave", "blur"].forEach((name) => button.addEventListener(name, () => tell(null)));
      group.append(button);
      return { one, button };
    });
    group.addEventListener("keydown", (event) => {
      const way = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
      if (!way) return;
      event.preventDefault();
      const open = drawn.buttons.map(({ button }) => button).filter((button) => !button.hidden);
      const next = open[open.indexOf(document.activeElement) + way];
      if (next) next.focus();
    });
    paper.replaceChildren(drawn.svg, group, tip);
  }

  sternlog.drawOverlay = () => {
    const paper = byId("overlay");
    const chart = sternlog.plane && sternlog.plane();
    if (!paper || !chart) return;
    if (!drawn.svg || !paper.contains(drawn.svg)) {
      makeButtons(paper);
      recallLayers();
    }
    paper.style.cssText = `left:${chart.left}px;top:${chart.top}px;width:${chart.width}px;height:${chart.height}px`;
    drawSvg(chart);
    const taken = new Set();
    let first = true;
    drawn.buttons.forEach(({ one, button }) => {
      const [x, y] = chart.at(one.x, one.y);
      const cell = `${one.kind} ${Math.round(x / APART_PX)} ${Math.round(y / APART_PX)}`;
      button.hidden = !drawn.layers.has(one.kind) || taken.has(cell)
        || x < 0 || y < 0 || x > chart.width || y > chart.height;
      if (button.hidden) return;
      taken.add(cell);
      button.style.left = `${x}px`;
      button.style.top = `${y}px`;
      button.tabIndex = first ? 0 : -1;
      first = false;
    });
  };

  sternlog.drawHappened = () => {
    const lane = byId("happened");
    const axis = sternlog.timeAxis && sternlog.timeAxis();
    if (!lane || !axis) return;
    const last = {};
    lane.replaceChildren(...sternlog.happened().filter((one) => drawn.layers.has(one.kind)).flatMap((one) => {
      const [from, to] = [axis.at(one.t), axis.at(one.end)];
      if (to < 0 || from > axis.length || from - (last[one.kind] ?? -9) < TICKS_APART_PX) return [];
      last[one.kind] = from;
      const tick = document.createElement("span");
      tick.className = one.kind;
      tick.style.left = `${axis.left + Math.max(from, 0)}px`;
      if (one.kind === "finding" && to > from) tick.style.width = `${Math.min(to, axis.length) - Math.max(from, 0)}px`;
      return [tick];
    }));
  };
})();
