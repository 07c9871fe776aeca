/* The start page: fills its lists, sends files slice by slice, watches what is being opened while there is any. */
(function () {
  "use strict";

  const POLL_MS = 300;
  const mine = new Set();
  const stopped = new Set();
  const picked = new Set();
  let folder = "";
  let watching = false;

  const at = (id) => document.getElementById(id);

  function make(tag, text, fields, ...children) {
    const element = Object.assign(document.createElement(tag), fields || {});
    if (text) element.textContent = text;
    element.append(...children);
    return element;
  }

  function size(bytes) {
    const units = ["bytes", "kB", "MB", "GB"];
    let value = bytes;
    let unit = 0;
    while (value >= 1000 && unit < units.length - 1) { value /= 1000; unit += 1; }
    return `${value.toFixed(unit === 0 || value >= 100 ? 0 : 1)} ${units[unit]}`;
  }

  function trouble(text) {
    at("trouble").textContent = text || "";
    at("trouble").hidden = !text;
  }

  async function ask(path, body) {
    const options = body === undefined ? {} : { method: "POST", body: body };
    if (typeof body === "string") options.headers = { "Content-Type": "application/json" };
    const answer = await fetch(path, options);
    const told = await answer.json().catch(() => ({}));
    if (!answer.ok) throw new Error(told.error || "The program does not answer as it should; start it again.");
    return told;
  }

  async function guarded(action) {
    try {
      trouble("");
      return await action();
    } catch (error) {
      trouble(error instanceof TypeError ? "The program does not answer; start it again." : error.message);
      return undefined;
    }
  }

  /* the folder */

  async function list(path) {
    let told;
    try {
      const answer = await fetch(`/open/logs?in=${encodeURIComponent(path)}`);
      if (answer.status === 404) return;
      told = await answer.json();
      if (!answer.ok) { trouble(told.error); return; }
    } catch { return; }
    folder = told.path;
    picked.clear();
    at("folder").hidden = false;
    at("folder-path").textContent = folder ? `${told.root}/${folder}` : told.root;
    const ways = told.folders.map((one) => way(one.name, one.path));
    if (told.above !== null) ways.unshift(way("One folder up", told.above));
    at("folders").replaceChildren(...ways);
    at("logs").replaceChildren(...told.logs.map(row));
    at("logs-table").hidden = told.logs.length === 0;
    at("no-logs").hidden = told.logs.length > 0 && !told.cut;
    at("no-logs").textContent = told.cut
      ? "The folder holds too many files to show them all."
      : "No file here looks like a recording of NMEA 0183. Start sternlog with --folder to name another folder.";
    offerPicked();
  }

  function way(name, path) {
    return make("li", "", {}, make("button", name, { type: "button", onclick: () => guarded(() => list(path)) }));
  }

  function row(log) {
    const pick = make("input", "", {
      type: "checkbox",
      ariaLabel: `Pick ${log.name}`,
      onchange: () => {
        if (pick.checked) picked.add(log.path); else picked.delete(log.path);
        offerPicked();
      },
    });
    const open = make("button", log.name, { type: "button", className: "log", onclick: () => openPaths([log.path]) });
    const changed = new Date(log.modified_ms).toLocaleDateString("en-GB", {
      day: "numeric", month: "short", year: "numeric", hour: "2-digit", minute: "2-digit",
    });
    return make("tr", "", {},
      make("td", "", { className: "picks" }, pick),
      make("td", "", {}, open),
      make("td", size(log.bytes), { className: "number" }),
      make("td", changed, { className: "short" }));
  }

  function offerPicked() {
    const button = at("open-picked");
    button.hidden = picked.size === 0;
    button.textContent = picked.size > 1 ? `Open these ${picked.size} as one passage` : "Open this one";
    button.onclick = () => openPaths([...picked]);
  }

  function openPaths(paths) {
    return guarded(async () => {
      mine.add((await ask("/open/paths", JSON.stringify({ paths }))).id);
      watch();
    });
  }

  /* files sent */

  function send(files) {
    if (!files.length) return undefined;
    return guarded(async () => {
      const told = files.map((file) => ({ name: file.name, bytes: file.size }));
      const job = await ask("/open/sent", JSON.stringify({ files: told }));
      mine.add(job.id);
      watch();
      const step = Number(at("opening").dataset.slice);
      for (const [number, file] of files.entries()) {
        for (let from = 0; from < file.size; from += step) {
          if (stopped.has(job.id)) return;
          try {
            await ask(`/open/sent/${job.id}/${number}?from=${from}`, file.slice(from, from + step));
          } catch (error) {
            if (stopped.has(job.id)) return;
            stopped.add(job.id);
            await ask(`/open/stop/${job.id}`, "{}");
            throw error;
          }
        }
      }
    });
  }

  /* what is being opened */

  async function watch() {
    if (watching) return;
    watching = true;
    try {
      for (;;) {
        const state = await ask("/open/state");
        if (!at("opening")) return;
        show(state);
        const done = state.jobs.find((job) => job.address && mine.has(job.id));
        if (done) { window.location.assign(done.address); return; }
        if (state.jobs.every((job) => job.over)) return;
        await new Promise((resolve) => setTimeout(resolve, POLL_MS));
      }
    } catch (error) {
      trouble(error instanceof TypeError ? "The program does not answer; start it again." : error.message);
    } finally {
      watching = false;
    }
  }

  function show(state) {
    const jobs = state.jobs.filter((job) => !job.address);
    at("under-way").hidden = jobs.length === 0;
    keep(at("jobs"), jobs, jobItem);
    at("no-passages").hidden = state.passages.length > 0;
    at("passages").replaceChildren(...state.passages.map(passage));
  }

  /* One item per job, kept while the job lasts, so that its button can be pressed. */
  function keep(place, jobs, fill) {
    const items = new Map([...place.children].map((item) => [item.dataset.id, item]));
    place.replaceChildren(...jobs.map((job) => fill(items.get(job.id) || newItem(job), job)));
  }

  function newItem(job) {
    const stop = make("button", "", { type: "button", onclick: () => guarded(() => end(job.id)) });
    const item = make("li", "", {},
      make("strong", job.name), make("span", "", { className: "stage" }),
      make("progress", "", { max: 1, ariaLabel: `Progress of ${job.name}` }), stop);
    item.dataset.id = job.id;
    return item;
  }

  function jobItem(item, job) {
    const [, stage, bar, button] = item.children;
    const read = !job.bytes ? "" : job.total ? `, ${size(job.bytes)} of ${size(job.total)}` : `, ${size(job.bytes)} so far`;
    const text = job.error || `${job.stage}${read}`;
    if (stage.textContent !== text) stage.textContent = text;
    item.classList.toggle("failed", Boolean(job.error));
    bar.hidden = Boolean(job.error);
    if (job.share === null) bar.removeAttribute("value"); else bar.value = job.share;
    const label = job.error ? "Dismiss" : "Cancel";
    if (button.textContent !== label) button.textContent = label;
    return item;
  }

  async function end(id) {
    stopped.add(id);
    mine.delete(id);
    await ask(`/open/stop/${id}`, "{}");
    show(await ask("/open/state"));
  }

  function passage(one) {
    return make("li", "", {},
      make("span", "", {}, make("a", one.name, { href: one.address }), make("span", one.when, { className: "small" })),
      make("button", "Close", {
        type: "button",
        ariaLabel: `Close ${one.name}`,
        onclick: () => guarded(async () => {
          await ask(`/open/close/${one.key}`, "{}");
          show(await ask("/open/state"));
        }),
      }));
  }

  /* wiring: the page is drawn by Dash, so wait until it stands */

  function wire() {
    const input = make("input", "", { type: "file", id: "files", multiple: true });
    input.addEventListener("change", () => { send([...input.files]); input.value = ""; });
    at("file-button").replaceWith(input);
    list("");
    watch();
  }

  document.addEventListener("dragover", (event) => {
    if (!at("drop-logs")) return;
    event.preventDefault();
    at("drop-logs").classList.add("over");
  });
  document.addEventListener("dragleave", (event) => {
    if (at("drop-logs") && !event.relatedTarget) at("drop-logs").classList.remove("over");
  });
  document.addEventListener("drop", (event) => {
    if (!at("drop-logs")) return;
    event.preventDefault();
    at("drop-logs").classList.remove("over");
    send([...event.dataTransfer.files]);
  });

  const waiting = new MutationObserver(() => {
    if (at("file-button")) { waiting.disconnect(); wire(); } else if (at("caution")) waiting.disconnect();
  });
  waiting.observe(document.documentElement, { childList: true, subtree: true });
})();
