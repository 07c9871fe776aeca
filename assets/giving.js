/* The panel that takes a file for a part of the passage: sends it, says what is wrong, lets the page be drawn anew. */
(function () {
  "use strict";

  const at = (name) => document.getElementById(name);

  function say(text) {
    if (at("give-told")) at("give-told").textContent = text;
  }

  async function ask(words, query, options) {
    say(words);
    at("give").classList.add("busy");
    try {
      const answer = await fetch(`give/${at("give").dataset.part}${query}`, options);
      const told = await answer.json().catch(() => ({}));
      if (answer.ok) { window.location.reload(); return; }
      say(told.error || "The program could not take it; try again or start the program anew.");
    } catch {
      say("The program does not answer; start it again.");
    }
    at("give").classList.remove("busy");
  }

  function send(files) {
    const most = Number(at("give").dataset.most);
    if (!files.length || at("give").classList.contains("busy")) return;
    if (files.length > 1) say("Give one file at a time.");
    else if (files[0].size > most) say(`${files[0].name}: is larger than ${Math.round(most / 1e6)} MB; cut it to this passage.`);
    else ask(`Reading ${files[0].name} …`, `?name=${encodeURIComponent(files[0].name)}`, { method: "POST", body: files[0] });
  }

  document.addEventListener("click", (event) => {
    if (event.target.closest("#give-none")) ask("Taking it away …", "", { method: "DELETE" });
  });

  const isOver = (event) => at("give") && event.dataTransfer && [...event.dataTransfer.types].includes("Files");
  document.addEventListener("dragover", (event) => {
    if (!isOver(event)) return;
    event.preventDefault();
    at("give").classList.add("over");
  });
  document.addEventListener("dragleave", (event) => {
    if (at("give") && !event.relatedTarget) at("give").classList.remove("over");
  });
  document.addEventListener("drop", (event) => {
    if (!isOver(event)) return;
    event.preventDefault();
    at("give").classList.remove("over");
    send([...event.dataTransfer.files]);
  });

  /* the page is drawn by Dash, so wait until it stands */
  const waiting = new MutationObserver(() => {
    if (at("give-file")) {
      waiting.disconnect();
      const input = Object.assign(document.createElement("input"), { type: "file", accept: at("give").dataset.endings });
      input.addEventListener("change", () => { send([...input.files]); input.value = ""; });
      at("give-file").replaceWith(input);
    } else if (at("caution")) waiting.disconnect();
  });
  waiting.observe(document.documentElement, { childList: true, subtree: true });
})();
