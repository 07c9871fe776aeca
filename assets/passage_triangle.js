/* The wind and water triangle at the cursor, to scale: on the left all motions, on the right those of the boat and
   the water alone, larger. The wind arrives at the boat; each true wind runs from where the apparent wind begins to
   the end of the boat's motion through the water, or over the ground; the current joins these two ends. */
(function () {
  "use strict";

  const sternlog = (window.sternlog = window.sternlog || {});
  const SVG = "http://www.w3.org/2000/svg";
  const SIZE = 168;
  const ROOM = 16;
  const STEPS = [1, 1.5, 2, 3, 4, 5, 6, 8, 10, 13, 16, 20, 26, 34, 44, 60, 90, 140];
  const SIDES = [
    ["wind-ground", "begin", "ground"],
    ["wind-water", "begin", "water"],
    ["air", "begin", "boat"],
    ["ground", "boat", "ground"],
    ["water", "boat", "water"],
    ["current", "water", "ground"],
  ];
  const WATER = ["ground", "water", "current"];
  const state = { headingUp: true, papers: null, row: null };

  const element = (name, attributes, parent) => {
    const made = document.createElementNS(SVG, name);
    Object.entries(attributes).forEach(([key, value]) => made.setAttribute(key, value));
    parent.append(made);
    return made;
  };

  function makePaper(holder, names, title) {
    const svg = document.createElementNS(SVG, "svg");
    svg.setAttribute("viewBox", `0 0 ${SIZE} ${SIZE}`);
    holder.append(svg);
    element("text", { x: 6, y: 18, class: "title" }, svg).textContent = title;
    const bow = element("line", { class: "bow" }, svg);
    const hull = element("path", { class: "hull", d: "M0,-11C5,-4 5,3 3.4,9H-3.4C-5,3 -5,-4 0,-11Z" }, svg);
    const sides = SIDES.filter(([name]) => names.includes(name)).map(([name, from, to]) => ({
      name,
      from,
      to,
      line: element("line", { class: `side ${name}` }, svg),
      head: element("path", { class: `head ${name}`, d: "M0,0L-8,-3.6V3.6Z" }, svg),
    }));
    const bar = element("path", { class: "bar" }, svg);
    const barText = element("text", { x: 8, y: SIZE - 9, class: "scale" }, svg);
    const north = element("g", { class: "northward" }, svg);
    element("path", { d: "M0,9V-7M-3.5,-2L0,-8L3.5,-2" }, north);
    return { svg, names, bow, hull, sides, bar, barText, north, scale: null, middle: null };
  }

  /* Pixels a knot: the largest step that fits, kept until it no longer does or a larger one fits well. */
  function rescale(paper, reach) {
    const fits = (step, share) => reach * step <= share * (SIZE - 2 * ROOM);
    const largest = (share) => STEPS.findLast((step) => fits(step, share)) || STEPS[0];
    if (!paper.scale || !fits(paper.scale, 1) || largest(0.75) > paper.scale) paper.scale = largest(0.95);
  }

  function drawPaper(paper, points, heading) {
    const used = paper.sides.filter((side) => points[side.from] && points[side.to]);
    if (!used.length) {
      [paper.hull, paper.bow, ...paper.sides.flatMap(({ line, head }) => [line, head])]
        .forEach((shape) => shape.toggleAttribute("hidden", true));
      return;
    }
    const corners = used.flatMap((side) => [points[side.from], points[side.to]]);
    const edges = [0, 1].map((part) => corners.map((corner) => corner[part]));
    const [low, high] = [edges.map((edge) => Math.min(...edge)), edges.map((edge) => Math.max(...edge))];
    rescale(paper, Math.max(high[0] - low[0], high[1] - low[1], 0.5));
    const wanted = [(low[0] + high[0]) / 2, (low[1] + high[1]) / 2];
    const far = !paper.middle || Math.hypot(wanted[0] - paper.middle[0], wanted[1] - paper.middle[1]) * paper.scale > 12;
    paper.middle = far ? wanted : paper.middle.map((part, at) => part + 0.08 * (wanted[at] - part));
    const place = (point) => [
      SIZE / 2 + (point[0] - paper.middle[0]) * paper.scale,
      SIZE / 2 - (point[1] - paper.middle[1]) * paper.scale,
    ];
    paper.sides.forEach((side) => {
      const [from, to] = [points[side.from], points[side.to]];
      const known = Boolean(from && to);
      side.line.toggleAttribute("hidden", !known);
      const [[x1, y1], [x2, y2]] = known ? [place(from), place(to)] : [[0, 0], [0, 0]];
      const length = Math.hypot(x2 - x1, y2 - y1);
      side.head.toggleAttribute("hidden", !known || length < 3);
      if (!known) return;
      const back = length > 9 ? 5 / length : 0;
      Object.entries({ x1, y1, x2: x2 - (x2 - x1) * back, y2: y2 - (y2 - y1) * back })
        .forEach(([key, value]) => side.line.setAttribute(key, value.toFixed(2)));
      const turn = (Math.atan2(y2 - y1, x2 - x1) * 180) / Math.PI;
      const size = Math.min(1, length / 10);
      side.head.setAttribute("transform", `translate(${x2.toFixed(2)},${y2.toFixed(2)}) rotate(${turn.toFixed(2)}) scale(${size.toFixed(2)})`);
    });
    const [x, y] = place([0, 0]);
    const course = state.headingUp ? 0 : heading;
    const sure = !Number.isNaN(heading);
    [paper.hull, paper.bow].forEach((shape) => shape.toggleAttribute("hidden", !sure));
    if (sure) {
      paper.hull.setAttribute("transform", `translate(${x.toFixed(2)},${y.toFixed(2)}) rotate(${course.toFixed(2)})`);
      const reach = 2 * SIZE;
      const [east, north] = [Math.sin((course * Math.PI) / 180), Math.cos((course * Math.PI) / 180)];
      Object.entries({ x1: x, y1: y, x2: x + reach * east, y2: y - reach * north })
        .forEach(([key, value]) => paper.bow.setAttribute(key, value.toFixed(2)));
    }
    paper.north.setAttribute("transform", `translate(${SIZE - 12},14) rotate(${state.headingUp && sure ? -heading : 0})`);
    drawScale(paper);
  }

  function drawScale(paper) {
    const { factor, symbol } = JSON.parse(sternlog.facts().knot);
    const longest = 46 / paper.scale * factor;
    const length = [20, 10, 5, 2, 1, 0.5, 0.2, 0.1].find((one) => one <= longest) || 0.1;
    paper.bar.setAttribute("d", `M6,${SIZE - 9}v4h${((length / factor) * paper.scale).toFixed(1)}v-4`);
    paper.barText.textContent = `${length} ${symbol}`;
  }

  sternlog.drawTriangle = (row) => {
    const holder = document.getElementById("triangle");
    if (!holder) return;
    if (!state.papers || !holder.contains(state.papers[0].svg)) {
      state.papers = [
        makePaper(holder, SIDES.map(([name]) => name), "wind and water"),
        makePaper(holder, WATER, "water, larger"),
      ];
    }
    state.row = row;
    const turn = state.headingUp && !Number.isNaN(row.heading) ? (row.heading * Math.PI) / 180 : 0;
    const [sin, cos] = [Math.sin(turn), Math.cos(turn)];
    const point = ([east, north], sign) =>
      (Number.isNaN(east) ? null : [sign * (east * cos - north * sin), sign * (east * sin + north * cos)]);
    const points = {
      boat: [0, 0],
      begin: point(row.air, -1),
      water: point(row.water, 1),
      ground: point(row.ground, 1),
    };
    state.papers.forEach((paper) => drawPaper(paper, points, row.heading));
  };

  sternlog.turnTriangle = () => {
    state.headingUp = !state.headingUp;
    document.getElementById("triangle-up").textContent = state.headingUp ? "North up" : "Heading up";
    (state.papers || []).forEach((paper) => { paper.middle = null; });
    if (state.row) sternlog.drawTriangle(state.row);
  };
})();
