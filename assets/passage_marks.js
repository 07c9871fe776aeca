/* Marks of the reader's own: placed on the track by a click, or at the boat, kept in this browser for each passage. */
(function () {
  "use strict";

  const sternlog = (window.sternlog = window.sternlog || {});
  const byId = (id) => document.getElementById(id);
  const PLACING = "Click on the chart where the mark lies. Esc leaves it.";
  const storeName = () => `marks ${window.location.pathname.split("/")[2]}`;
  const kept = () => JSON.parse(window.localStorage.getItem(storeName()) || "[]");
  let marks = null;

  sternlog.keptMarks = kept;
  sternlog.offerMarks = (name, offered, choose) => {
    byId(name).replaceChildren(...offered.map((mark) => {
      const button = Object.assign(document.createElement("button"), { type: "button" });
      button.textContent = `Mark ${mark.number}: ${mark.position}`;
      button.addEventListener("click", () => choose(mark));
      return button;
    }));
  };

  async function told(query, number) {
    const reply = await fetch(`mark?${new URLSearchParams(query)}`);
    if (!reply.ok) throw new Error(reply.statusText);
    const mark = await reply.json();
    return { ...mark, number, kind: "mark", words: `Mark ${number}, ${mark.position}; nearest at ${mark.time_of_day}`,
      t: mark.time_ms, end: mark.time_ms, x: mark.east_nm, y: mark.north_nm };
  }

  function chip(mark) {
    const holder = document.createElement("span");
    const go = document.createElement("button");
    go.textContent = `Mark ${mark.number}`;
    go.title = mark.words;
    go.addEventListener("click", () => sternlog.goTo(mark.t, mark.words));
    const away = document.createElement("button");
    away.textContent = "×";
    away.setAttribute("aria-label", `Take mark ${mark.number} away`);
    away.addEventListener("click", () => { marks = marks.filter((one) => one !== mark); show(); });
    holder.append(go, away);
    return holder;
  }

  function show() {
    const stored = marks.map(({ number, lat_deg, lon_deg, position, t }) => ({ number, lat_deg, lon_deg, position, t }));
    window.localStorage.setItem(storeName(), JSON.stringify(stored));
    byId("own-marks").replaceChildren(...marks.map(chip));
    sternlog.setOwnMarks(marks);
  }

  async function add(east_nm, north_nm) {
    const number = Math.max(0, ...marks.map((one) => one.number)) + 1;
    try {
      marks.push(await told({ east_nm, north_nm }, number));
      show();
    } catch {
      document.body.classList.add("lost");
    }
  }

  const say = (words) => { byId("said").textContent = words; };

  sternlog.placing = (on) => {
    const button = byId("place-mark");
    if (!button || document.body.classList.contains("placing") === on) return;
    document.body.classList.toggle("placing", on);
    button.setAttribute("aria-pressed", String(on));
    byId("place-hint").textContent = on ? PLACING : "";
  };
  sternlog.isPlacing = () => document.body.classList.contains("placing");

  sternlog.placeMark = (east, north) => {
    sternlog.placing(false);
    add(east, north);
  };

  sternlog.markBoat = () => {
    const row = sternlog.rowAt(sternlog.state.timeMs, sternlog.markBoat);
    if (row === undefined) return;
    if (byId("place-mark") && row && !Number.isNaN(row.east)) add(row.east, row.north);
    else say("There is no position here to mark.");
  };

  document.addEventListener("click", (event) => {
    if (event.target.closest("#place-mark")) sternlog.placing(!sternlog.isPlacing());
  });

  sternlog.recallMarks = async () => {
    if (marks) return;
    marks = [];
    const known = kept();
    if (!known.length) return;
    try {
      marks = await Promise.all(
        known.map(({ number, lat_deg, lon_deg }) => told({ lat_deg, lon_deg }, number)),
      );
      show();
    } catch {
      document.body.classList.add("lost");
    }
  };
})();
